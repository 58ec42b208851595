"""The board of a simulated rig whose firmware runs under this very Python, frames handed over in memory."""

from __future__ import annotations

from controller.service.board_settings import limits_of
from controller.settings.values import Site
from firmware_bridge.firmware.node import Node
from sim.board import BoardEdges
from sim.board_memory import BoardMemory
from sim.memory_line import MemoryLine
from sim.pins import FakePins


class InProcessBoard:
    """One board with this site's limits and server id. It must be booted before anything else is asked."""

    node: Node

    def __init__(self, site: Site) -> None:
        self._limits = limits_of(site)
        self._server_id = site.rig.board.server_id
        self._ticks = 0
        self.memory = BoardMemory(self._limits.channels)
        self.transport = MemoryLine(self._serve)

    @property
    def boot_id(self) -> int:
        """Give the present boot id."""
        return self.node.boot_id

    @property
    def dose_id(self) -> int:
        """Give the id under which the last motion ran."""
        return self.node.pumps.dose_id

    @property
    def running(self) -> bool:
        """Tell whether a motion is not over."""
        return self.node.pumps.running

    @property
    def enabled(self) -> bool:
        """Tell whether the firmware holds the enable on."""
        return self.node.enabled

    def boot(self, pins: FakePins, boot_id: int, ticks: int) -> None:
        """Start the firmware anew on these pins."""
        self._ticks = ticks
        self.node = Node(pins, self._limits, boot_id, self._server_id, storage=self.memory)

    def poll(self, ticks: int) -> None:
        """Go once round the firmware."""
        self._ticks = ticks
        self.node.poll(ticks)

    def edges(self) -> BoardEdges:
        """Give what changes at once."""
        node = self.node
        guard = node.guard
        return (
            node.boot_id,
            guard.trips,
            guard.high_float,
            guard.leak,
            node.pumps.running,
            node.valve.is_open,
            node.enabled,
        )

    def _serve(self, frame: bytes) -> bytes:
        return self.node.serve(frame, self._ticks)
