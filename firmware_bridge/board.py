"""The board as the controller sees it: one image to read, one command to write, and what the board is.

No frames (see `link.py`), no words (see `board_words.py`), no judgement of what an image says.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass

from controller.run.image import BoardImage
from controller.run.request import Request
from firmware_bridge import registers as reg
from firmware_bridge.board_words import command_block, image_of, scan_words
from firmware_bridge.firmware.modbus import READ_INPUT
from firmware_bridge.link import LinkError, Master, Transport
from firmware_bridge.reply_order import ReplyOrder

# Exchanges after which no earlier frame can still be under way.
LEASE_LEAD = 1000
# A read asks for up to so many words more than it needs, each time for another number, so that the late
# answer to one read has the wrong length for the next. The words on top are the neighbours in the map: behind
# the scan block, before the channels.
SPARE_SCAN_WORDS = reg.IN_IDENTITY - reg.SCAN_WORDS
SPARE_MOTION_WORDS = reg.IN_CHANNELS - reg.IN_IDENTITY


@dataclass(frozen=True, slots=True)
class ChannelMotion:
    """What one channel has done since the board booted. `last_dose_id` 0: nothing."""

    channel: int
    last_dose_id: int
    count_done: int
    counts_since_boot: int


@dataclass(frozen=True, slots=True)
class BoardIdentity:
    """What the board says it is. Versions are major * 256 + minor."""

    map_id: int
    firmware_version: int
    channels: int
    limits_checksum: int
    lease_ms: int
    valve_cap_ms: int
    front_ends_checksum: int
    self_tests: int


class BoardLink:
    """Read and command one board.

    Every call takes a bounded number of exchanges; none but `identify` raises LinkError. What the board said
    before may arrive late and sound: it is never taken for what the board says now.
    """

    def __init__(self, transport: Transport, server_id: int) -> None:
        self.server_id = server_id
        self._master = Master(transport, server_id)
        self._scan_requests = tuple(
            self._master.read_request(READ_INPUT, reg.IN_MAP_ID, reg.SCAN_WORDS + spare)
            for spare in range(SPARE_SCAN_WORDS + 1)
        )
        self._turn = 0
        self._boot_id = 0
        self._lease = 0
        self._order = ReplyOrder()

    def read(self) -> BoardImage | None:
        """Take one image.

        None when the board is silent or garbled, is not a board of this map, or when what came is older than
        the last command that was confirmed or the last image that was given.
        """
        self._turn += 1
        request = self._scan_requests[self._turn % len(self._scan_requests)]
        try:
            fields = scan_words.unpack_from(self._master.read(request))
        except LinkError:
            self._order.missed()
            return None
        if fields[0] != reg.MAP_ID or not self._order.follows(fields[1], fields[2], fields[3]):
            self._order.missed()
            return None
        self._note(boot_id=fields[1], lease=fields[3])
        return image_of(fields)

    def write(self, outputs: Request) -> bool:
        """Send one command, which also renews the lease; False unless the board confirmed it.

        All confirmations are alike, so a late one may belong to the command before; then the next image does
        not show this command's number, and is refused. Raises ValueError for a number that fits no register.
        """
        if self._boot_id == 0 and self.read() is None:
            return False
        self._lease = (self._lease + 1) & 0xFFFF
        words = command_block(outputs, self._lease, self._boot_id)
        try:
            self._master.write_block(reg.HOLD_LEASE, words)
        except LinkError:
            return False
        self._order.confirm(self._lease)
        return True

    def renew(self) -> bool:
        """Renew the lease of the last command; False when that failed and the board's lease will run out.

        On a line that gives back what is sent this is True though no board may be there: only an image that
        shows the counter proves it.
        """
        self._lease = (self._lease + 1) & 0xFFFF
        try:
            self._master.write_single(reg.HOLD_LEASE, self._lease)
        except LinkError:
            return False
        self._order.confirm(self._lease)
        return True

    def identity(self) -> BoardIdentity | None:
        """Read what the board is; None when it does not answer."""
        try:
            return self.identify()
        except LinkError:
            return None

    def identify(self) -> BoardIdentity:
        """Read what the board is. Raises LinkError."""
        words = self._master.read_input(reg.IN_IDENTITY, reg.IDENTITY_WORDS)
        return BoardIdentity(*struct.unpack(reg.IDENTITY_FORMAT, words))

    def read_motions(self) -> tuple[ChannelMotion, ...] | None:
        """Read what every channel has done, for recovery; None when the board does not answer."""
        self._turn += 1
        spare = self._turn % (SPARE_MOTION_WORDS + 1)
        size = spare + reg.MAX_CHANNELS * reg.CHANNEL_WORDS
        try:
            words = self._master.read_input(reg.IN_CHANNELS - spare, size)
        except LinkError:
            return None
        entries = struct.iter_unpack(reg.CHANNEL_FORMAT, words[2 * spare :])
        return tuple(ChannelMotion(channel, *entry) for channel, entry in enumerate(entries))

    def _note(self, boot_id: int, lease: int) -> None:
        """Follow the board's lease counter when it is ahead, or too far behind to be caught up with.

        A little behind is left alone: a frame with the number in between may still be under way.
        """
        if boot_id != self._boot_id or (self._lease - lease) & 0xFFFF > LEASE_LEAD:
            self._lease = lease
        self._boot_id = boot_id
