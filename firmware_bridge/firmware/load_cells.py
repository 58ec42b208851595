"""Scales: 24-bit load-cell converters on one clock, each with a data line. No pins here.

Optional. Who is fitted is found out in the first second, again when one has not answered for a second, and
when one shows up late. All are read together, some four times a second; what is older than a second is no
reading. A converter pulls its data line low when it has a value and shifts it out, high bit first, one bit
for each clock pulse; a 25th pulse asks for the next one. A clock that stays high for 60 µs switches it off
(data sheets of the kind, from memory). The zero of a scale is not known here: the host tares.
"""

from firmware_bridge.firmware.pin_plan import SCALE_COUNTS_PER_G
from firmware_bridge.firmware.ticks import ticks_diff
from firmware_bridge.registers import NO_READING

# mypy reads the import below, the board never does: MicroPython has no `typing`.
TYPE_CHECKING = False
if TYPE_CHECKING:
    from firmware_bridge.firmware_protocols import ClockPulse, InputLine

_BITS = 24
_SIGN = 0x800000
_ENDS = (_SIGN - 1, _SIGN)
# Who has not answered by then is not fitted, or has failed; converters of the kind give 10 values a second.
_ANSWER_MS = 1000
# More often would bring little: what stands on a scale changes slowly.
_EVERY_MS = 250


def grams(raw: int) -> int:
    """Give g, halves rounded up, for 24 bits in two's complement; NO_READING at either end of their range."""
    if raw in _ENDS:
        return NO_READING
    if raw & _SIGN:
        raw -= 0x1000000
    return (raw + SCALE_COUNTS_PER_G // 2) // SCALE_COUNTS_PER_G


class LoadCells:
    """`grams` has one entry for each data line. All fitted ones are read together or not at all."""

    def __init__(self, clock: "ClockPulse", lines: "list[InputLine]") -> None:
        self._clock = clock
        self._lines = lines
        self._fitted = [False] * len(lines)
        self._looking = True
        self._since_ms = -1
        self._raw = [0] * len(lines)
        self.grams = [NO_READING] * len(lines)

    def attend(self, now_ms: int) -> None:
        """Read every scale when it is time and all have a value, about 2 ms; allocates nothing."""
        if self._since_ms < 0:
            self._since_ms = now_ms
        since_ms = ticks_diff(now_ms, self._since_ms)
        late = not 0 <= since_ms < _ANSWER_MS
        self._look()
        if self._looking:
            if late:
                self._looking = False
                self._since_ms = now_ms
        elif late or since_ms >= _EVERY_MS:
            if self._all_ready():
                self._since_ms = now_ms
                self._shift()
            elif late:
                self._begin_anew(now_ms)

    def _look(self) -> None:
        for index in range(len(self._lines)):
            if self._lines[index].value() == 0:
                self._fitted[index] = True

    def _begin_anew(self, now_ms: int) -> None:
        """Believe nobody any more, not even to be fitted: one that has failed must not silence the others."""
        for index in range(len(self.grams)):
            self.grams[index] = NO_READING
            self._fitted[index] = False
        self._looking = True
        self._since_ms = now_ms

    def _all_ready(self) -> bool:
        some = False
        for index in range(len(self._lines)):
            if self._fitted[index]:
                some = True
                if self._lines[index].value():
                    return False
        return some

    def _shift(self) -> None:
        raw = self._raw
        for index in range(len(raw)):
            raw[index] = 0
        for _ in range(_BITS):
            self._clock()
            for index in range(len(raw)):
                raw[index] = (raw[index] << 1) | self._lines[index].value()
        self._clock()
        for index in range(len(raw)):
            # Right after the last pulse the line must be high again; one that is not is shorted.
            sound = self._fitted[index] and self._lines[index].value()
            self.grams[index] = grams(raw[index]) if sound else NO_READING
