"""The host's end of the line: Modbus RTU master, frame by frame, over any transport.

Knows frames and repeats; what the registers mean is `board.py`'s. The CRC is the board's own, because both
sides ship together; the tests hold it against the published one.
"""

from __future__ import annotations

import struct
from typing import Protocol

from firmware_bridge.firmware.modbus import (
    READ_HOLDING,
    READ_INPUT,
    WRITE_MULTIPLE,
    WRITE_SINGLE,
    crc16,
    framed,
)

ATTEMPTS = 2


class LinkError(Exception):
    """The exchange did not come off."""


class LinkSilent(LinkError):
    """No answer in time."""


class LinkGarbled(LinkError):
    """An answer came that is damaged, or answers something else."""


class BoardRefused(LinkError):
    """The board answered with a Modbus exception; `code` is 1 to 4."""

    def __init__(self, code: int) -> None:
        super().__init__(f"the board refused with exception {code:02d}")
        self.code = code


class Transport(Protocol):
    """One request out, one reply in."""

    def exchange(self, request: bytes) -> bytes:
        """Give the whole reply frame; raise LinkSilent when none came in time."""
        ...


class Master:
    """Talk to one server. Every exchange is tried twice at most, so that its time is bounded.

    A repeat is safe for reads, and for writes because the board knows the same command again.
    """

    def __init__(self, transport: Transport, server_id: int) -> None:
        if not 1 <= server_id <= 247:
            raise ValueError(f"server id {server_id} is not 1 to 247")
        self._transport = transport
        self._server_id = server_id

    def read_request(self, function: int, address: int, count: int) -> bytes:
        """Make a request for functions 03 and 04, to be kept and sent again and again."""
        return framed(struct.pack(">BBHH", self._server_id, function, address, count))

    def read(self, request: bytes) -> bytes:
        """Send a request of `read_request`; give the register bytes in wire order."""
        size = 2 * request[5]
        reply = self._exchange(request, 5 + size)
        if reply[2] != size:
            raise LinkGarbled("the reply has another length than was asked for")
        return reply[3:-2]

    def read_input(self, address: int, count: int) -> bytes:
        """Read `count` input registers (function 04)."""
        return self.read(self.read_request(READ_INPUT, address, count))

    def read_holding(self, address: int, count: int) -> bytes:
        """Read `count` holding registers (function 03)."""
        return self.read(self.read_request(READ_HOLDING, address, count))

    def write_single(self, address: int, value: int) -> None:
        """Write one holding register (function 06)."""
        request = framed(struct.pack(">BBHH", self._server_id, WRITE_SINGLE, address, value))
        if self._exchange(request, 8) != request:
            raise LinkGarbled("the reply does not repeat the request")

    def write_block(self, address: int, words: bytes) -> None:
        """Write several holding registers given in wire order (function 16)."""
        size = len(words)
        head = struct.pack(">BBHHB", self._server_id, WRITE_MULTIPLE, address, size // 2, size)
        request = framed(head + words)
        if self._exchange(request, 8)[:6] != request[:6]:
            raise LinkGarbled("the reply does not repeat the request's address and length")

    def _exchange(self, request: bytes, reply_size: int) -> bytes:
        for _ in range(ATTEMPTS - 1):
            try:
                return self._attempt(request, reply_size)
            except (LinkSilent, LinkGarbled):
                pass
        return self._attempt(request, reply_size)

    def _attempt(self, request: bytes, reply_size: int) -> bytes:
        reply = self._transport.exchange(request)
        if len(reply) < 5 or crc16(reply) or reply[0] != request[0]:
            raise LinkGarbled("the reply is damaged or comes from another server")
        if reply[1] == request[1] and len(reply) == reply_size:
            return reply
        if reply[1] == request[1] | 0x80 and len(reply) == 5:
            raise BoardRefused(reply[2])
        raise LinkGarbled("the reply answers something else")
