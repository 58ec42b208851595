"""What outlives a restart of a simulated board: the two slots of its record, as bytes without a meaning."""

from __future__ import annotations

from firmware_bridge.firmware.kept import blank
from firmware_bridge.firmware.night import PARTS
from firmware_bridge.firmware.two_slots import record


class BoardMemory:
    """Fits `firmware_protocols.Storage`. It starts as on a board that was reset once after its installation.

    `writes` counts what was written since: each is a write of flash on a real board.
    """

    def __init__(self, channels: int) -> None:
        self.slots = [record(0, blank(channels, PARTS + 1)), b""]
        self.writes = 0

    def load(self, slot: int) -> bytes:
        """Give a slot's bytes."""
        return self.slots[slot]

    def save(self, slot: int, data: bytes) -> None:
        """Replace a slot."""
        self.slots[slot] = data
        self.writes += 1

    def lose(self) -> None:
        """Lose both slots, as a flash does that is worn out or was wiped."""
        self.slots = [b"", b""]
