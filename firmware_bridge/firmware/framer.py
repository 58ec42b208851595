"""Where one Modbus RTU frame ends and the next begins: by silence on the line. No CRC, no serial port here.

A main loop looks at the line once a round, so it sees bytes later than they came. A frame has therefore ended
when a look has found nothing new for the whole silence; a long round alone never cuts a frame in two.
"""

from firmware_bridge.firmware.modbus import LONGEST_FRAME
from firmware_bridge.firmware.ticks import ticks_diff

_BITS_PER_CHARACTER = 11
_FASTEST_COUNTED_BAUD = 19200
_FIXED_SILENCE_US = 1750


def silence_us(baud: int) -> int:
    """Give t3.5 in us, rounded up (Modbus Serial Line V1.02 §2.5.1.1).

    3.5 characters of 11 bits up to 19200 baud, 1750 us above.
    """
    if baud > _FASTEST_COUNTED_BAUD:
        return _FIXED_SILENCE_US
    return (7 * _BITS_PER_CHARACTER * 500000 + baud - 1) // baud


class Framer:
    """Gather bytes to frames of at most 256; a longer one is swallowed whole.

    Ticks are us and wrap at 2**30. They count only while a frame is being gathered, so a line may be idle for
    any time.
    """

    def __init__(self, silence_us: int) -> None:
        self._silence_us = silence_us
        self._bytes = bytearray(LONGEST_FRAME)
        self._count = 0
        self._last_us = 0

    def put(self, data: bytes | bytearray | memoryview, count: int, now_us: int) -> None:
        """Take the first `count` bytes of `data`, which have just arrived; allocates nothing."""
        if count <= 0:
            return
        into = self._bytes
        at = self._count
        for index in range(count):
            if at < LONGEST_FRAME:
                into[at] = data[index]
            at += 1
        # One more than the longest is as long as any other that is too long.
        self._count = at if at <= LONGEST_FRAME else LONGEST_FRAME + 1
        self._last_us = now_us

    def take(self, now_us: int) -> bytes:
        """Give the frame that has ended; empty while there is none.

        Call it after a look at the line, with the ticks of that look: what had arrived has been `put`.
        """
        count = self._count
        if count == 0 or ticks_diff(now_us, self._last_us) < self._silence_us:
            return b""
        self._count = 0
        return bytes(self._bytes[:count]) if count <= LONGEST_FRAME else b""
