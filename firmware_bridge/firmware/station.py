"""One station on the serial line: the board's rounds and the frames between them. No port, no clock here."""

# mypy reads the imports below, the board never does: MicroPython has no `typing`.
TYPE_CHECKING = False
if TYPE_CHECKING:
    from firmware_bridge.firmware.framer import Framer
    from firmware_bridge.firmware.node import Node


class Station:
    """A node behind a framer. Each round: look at the line, `arrived` if there was something, then `turn`."""

    def __init__(self, node: "Node", framer: "Framer") -> None:
        self.node = node
        self._framer = framer

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
        return self.node.serve(frame, now_ms) if frame else b""
