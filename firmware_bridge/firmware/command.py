"""One command of the host, decoded, and the block of registers that stands. No judgement lives here."""

import struct

from firmware_bridge.registers import COMMAND_ENABLE, COMMAND_FORMAT, COMMAND_RUN, COMMAND_WORDS


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


class Standing:
    """The block as it was last carried out; all zero but the lease counter after a switching-off."""

    def __init__(self) -> None:
        self._block = bytearray(2 * COMMAND_WORDS)

    def words(self, address: int, count: int) -> bytes | bytearray:
        """Give some of it in wire order; empty when it has none at that address."""
        return self._block[2 * address : 2 * (address + count)] if address + count <= COMMAND_WORDS else b""

    def is_same(self, words: bytes) -> bool:
        """Say whether this is the block that stands."""
        return words == self._block

    def put(self, words: bytes) -> None:
        """Let a whole block stand."""
        self._block[:] = words

    def note_lease(self, counter: int) -> None:
        """Put another lease counter in."""
        self._block[0] = counter >> 8
        self._block[1] = counter & 0xFF

    def clear(self, counter: int) -> None:
        """Let nothing stand but the lease counter; allocates nothing."""
        block = self._block
        for index in range(2, len(block)):
            block[index] = 0
        self.note_lease(counter)
