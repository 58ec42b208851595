"""Ticks as the board counts them, in ms or in us: they wrap at 2**30. No clock is read here.

Every step stays inside a small integer of a 32-bit MicroPython, so that nothing here allocates.
"""

TICKS_PERIOD = 1 << 30
TICKS_HALF = 1 << 29
_MASK = 0x3FFFFFFF


def ticks_diff(later: int, earlier: int) -> int:
    """Give `later - earlier` across a wrap; negative from half a period on (6.2 days of ms, 536 s of us)."""
    gap = (later - earlier) & _MASK
    return gap if gap < TICKS_HALF else gap - TICKS_HALF - TICKS_HALF


def elapsed_ms(later: int, earlier: int) -> int:
    """Give the ms that passed; a clock that seems to run backwards counts as half a period.

    So a gap too long to measure makes everything that is timed run out, instead of last for ever.
    """
    gap_ms = ticks_diff(later, earlier)
    return gap_ms if gap_ms >= 0 else TICKS_HALF


class Uptime:
    """The ms since boot, modulo 2**32; kept in halves, because a whole one would not stay a small integer."""

    def __init__(self) -> None:
        self._high = 0
        self._low = 0

    def elapse(self, ms: int) -> None:
        """Let time pass; allocates nothing."""
        low = self._low + ms
        self._low = low & 0xFFFF
        self._high = (self._high + (low >> 16)) & 0xFFFF

    def ms(self) -> int:
        """Give it; may allocate."""
        return (self._high << 16) | self._low
