"""What the simulated rig asks of a board, wherever its firmware runs. No physics, no frames, no decisions.

A board drives the fake pins it is booted on and answers over its transport; time is the rig's, in ticks.
"""

from __future__ import annotations

from typing import Protocol

from firmware_bridge.link import Transport
from sim.board_memory import BoardMemory
from sim.pins import FakePins

BoardEdges = tuple[int, int, bool, bool, bool, bool, bool]


class SimBoard(Protocol):
    """One board. Ticks are ms and wrap at 2**30; frames are served at those of the last `poll` or `boot`."""

    @property
    def transport(self) -> Transport:
        """Give the host's end of the line to this board."""
        ...

    @property
    def memory(self) -> BoardMemory:
        """Give what outlives a restart; `memory.lose()` before one is a board whose memory is lost."""
        ...

    @property
    def boot_id(self) -> int:
        """Give the present boot id."""
        ...

    @property
    def dose_id(self) -> int:
        """Give the id under which the last motion ran, 0 none yet."""
        ...

    @property
    def running(self) -> bool:
        """Tell whether a motion is not over, though its motor may rest."""
        ...

    @property
    def enabled(self) -> bool:
        """Tell whether the firmware holds the enable on."""
        ...

    def boot(self, pins: FakePins, boot_id: int, ticks: int) -> None:
        """Start the firmware anew on these pins; it knows only what its memory has kept."""
        ...

    def poll(self, ticks: int) -> None:
        """Go once round the firmware, with the pins as they are now."""
        ...

    def edges(self) -> BoardEdges:
        """Give what changes at once: boot id, trips, high float, leak, running, valve open, enabled."""
        ...
