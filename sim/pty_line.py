"""A serial line whose host end is a real pseudo-terminal; a relay moves its bytes and may pace or spoil them.

The far end is a socket for whoever plays the board. Nothing here knows a frame or a register; the time that
passes on this line is real time.
"""

from __future__ import annotations

import os
import select
import socket
import threading
import time
import tty
from collections.abc import Callable, Iterable
from contextlib import suppress
from heapq import heappop, heappush

BITS_PER_CHARACTER = 11
CHUNK = 4096

Pieces = Iterable[tuple[float, bytes]]
Wire = Callable[[bytes], Pieces]


def whole(data: bytes) -> Pieces:
    """Let everything through at once: the wire of a sound line.

    A wire is given what came in one piece, and gives the pieces that arrive, each with its delay in s: none
    is a loss, two are a repeat, other bytes are a disturbance.
    """
    return ((0.0, data),)


class Lane:
    """One direction of the line: what has come in and is still under way. `baud` None: as fast as it goes."""

    def __init__(self, source: int, target: int, baud: int | None) -> None:
        self.source = source
        self.wire: Wire = whole
        self._target = target
        self._character_s = BITS_PER_CHARACTER / baud if baud else 0.0
        self._free_s = 0.0
        self._number = 0
        self._under_way: list[tuple[float, int, bytes]] = []

    def take_in(self, now_s: float) -> bool:
        """Take what the source has written; False when the source is gone."""
        try:
            data = os.read(self.source, CHUNK)
        except BlockingIOError:
            return True
        except OSError:
            return False
        for after_s, piece in self.wire(data) if data else ():
            self._send(piece, now_s + after_s)
        return bool(data)

    def deliver(self, now_s: float) -> None:
        """Hand over all that has arrived; a far end that does not take it loses it, as a serial port does."""
        arrived = b""
        while self._under_way and self._under_way[0][0] <= now_s:
            arrived += heappop(self._under_way)[2]
        if arrived:
            with suppress(OSError):
                os.write(self._target, arrived)

    def next_s(self) -> float | None:
        """Give the moment at which the next piece arrives."""
        return self._under_way[0][0] if self._under_way else None

    def _send(self, piece: bytes, from_s: float) -> None:
        if self._character_s:
            # Whole, when its last bit is there: byte by byte, a relay that is late would tear frames apart.
            from_s = max(self._free_s, from_s) + len(piece) * self._character_s
            self._free_s = from_s
        # The number keeps pieces of the same moment in their order.
        self._number += 1
        heappush(self._under_way, (from_s, self._number, piece))


class PtyLine:
    """A line from the device `port` to the socket `far_end`.

    `to_board.wire` and `to_host.wire` may be changed at any time. `baud` in bit/s paces both directions by
    characters of 11 bits (Modbus Serial Line V1.02 §2.5.1). Whoever hands `far_end` to a child closes it
    here.
    """

    def __init__(self, baud: int | None = None) -> None:
        self.baud = baud
        self._master, self._slave = os.openpty()
        tty.setraw(self._slave)
        self.port = os.ttyname(self._slave)
        self._near, self.far_end = socket.socketpair()
        self._wake, self._waker = os.pipe()
        for fd in (self._master, self._near.fileno()):
            os.set_blocking(fd, False)
        self.to_board = Lane(self._master, self._near.fileno(), baud)
        self.to_host = Lane(self._near.fileno(), self._master, baud)
        self._closed = False
        self._thread = threading.Thread(target=self._relay, name=f"line {self.port}", daemon=True)
        self._thread.start()

    def __enter__(self) -> PtyLine:
        return self

    def __exit__(self, *_of_the_fault: object) -> None:
        self.close()

    def close(self) -> None:
        """Stop the relay and give everything back; a second call does nothing."""
        if self._closed:
            return
        self._closed = True
        os.write(self._waker, b"x")
        self._thread.join()
        self._near.close()
        self.far_end.close()
        for fd in (self._master, self._slave, self._wake, self._waker):
            os.close(fd)

    def _relay(self) -> None:
        lanes = {lane.source: lane for lane in (self.to_board, self.to_host)}
        watched = [self._wake, *lanes]
        while True:
            ready, _, _ = select.select(watched, (), (), self._patience_s())
            if self._wake in ready:
                return
            now_s = time.monotonic()
            for source in ready:
                if not lanes[source].take_in(now_s):
                    watched.remove(source)
            for lane in lanes.values():
                lane.deliver(now_s)

    def _patience_s(self) -> float | None:
        """Give the time until something arrives; None when nothing is under way."""
        moments = [at_s for lane in (self.to_board, self.to_host) if (at_s := lane.next_s()) is not None]
        return max(0.0, min(moments) - time.monotonic()) if moments else None
