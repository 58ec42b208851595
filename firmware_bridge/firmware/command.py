"""One command of the host, as decoded from the block of holding registers. No judgement lives here."""

import struct

from firmware_bridge.registers import COMMAND_ENABLE, COMMAND_FORMAT, COMMAND_RUN


class Command:
    """The fields of the block; the same object is filled again for every command."""

    def __init__(self) -> None:
        self.lease = 0
        self.boot_id = 0
        self.flags = 0
        self.open_id = 0
        self.open_max_ms = 0
        self.channel = 0
        self.dose_id = 0
        self.target = 0
        self.counts_per_s = 0
        self.enable = False
        self.run = False

    def take(self, words: bytes) -> None:
        """Decode one block given in wire order."""
        (
            self.lease,
            self.boot_id,
            self.flags,
            self.open_id,
            self.open_max_ms,
            self.channel,
            self.dose_id,
            self.target,
            self.counts_per_s,
        ) = struct.unpack(COMMAND_FORMAT, words)
        self.enable = self.flags & COMMAND_ENABLE != 0
        self.run = self.flags & COMMAND_RUN != 0

    def wants_on(self) -> bool:
        """Say whether anything at all is asked for; unknown flags count as something."""
        return self.flags != 0 or self.open_id != 0 or self.open_max_ms != 0
