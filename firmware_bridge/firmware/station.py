"""One station on the serial line: the board's rounds and the frames between them. No port, no clock here."""

from firmware_bridge.firmware.ticks import ticks_diff

# mypy reads the imports below, the board never does: MicroPython has no `typing`.
TYPE_CHECKING = False
if TYPE_CHECKING:
    from firmware_bridge.firmware.framer import Framer
    from firmware_bridge.firmware.node import Node

# On a line that echoes, a reply of eight bytes (all that look like a request) comes back within 10 ms at 9600
# baud, its silence after 4 ms more, and a round may be late by 20 ms. A host repeats itself only after it has
# waited in vain, 60 ms and more (`serial_line.BOARD_ALLOWANCE_S`).
ECHO_US = 40_000


class Station:
    """A node behind a framer. Each round: look at the line, `arrived` if there was something, then `turn`."""

    def __init__(self, node: "Node", framer: "Framer") -> None:
        self.node = node
        self._framer = framer
        self._said = b""
        self._said_us = 0

    def arrived(self, data: bytes | bytearray | memoryview, count: int, now_us: int) -> None:
        """Take the first `count` bytes of `data`, just read from the line."""
        self._framer.put(data, count, now_us)

    def turn(self, now_us: int, now_ms: int) -> bytes:
        """Go once round the node, then answer a frame that has ended; empty when there is nothing to say.

        `now_us` is when the line was looked at, both ticks wrap at 2**30. A round without a frame allocates
        nothing.
        """
        self.node.poll(now_ms)
        frame = self._framer.take(now_us)
        return self._answer(frame, now_us, now_ms) if frame else b""

    def _answer(self, frame: bytes, now_us: int, now_ms: int) -> bytes:
        is_echo = frame == self._said and 0 <= ticks_diff(now_us, self._said_us) < ECHO_US
        # Once: what comes a second time was said by somebody.
        self._said = b""
        if is_echo:
            return b""
        reply = self.node.serve(frame, now_ms)
        self._said = reply
        self._said_us = now_us
        return reply
