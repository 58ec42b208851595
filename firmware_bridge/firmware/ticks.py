"""Millisecond ticks as the board counts them: they wrap at 2**30. No clock is read here."""

TICKS_PERIOD = 1 << 30
TICKS_HALF = TICKS_PERIOD >> 1


def ticks_diff(later: int, earlier: int) -> int:
    """Give `later - earlier` in ms across a wrap; negative from half a period (6.2 days) on."""
    return ((later - earlier + TICKS_HALF) & (TICKS_PERIOD - 1)) - TICKS_HALF


def elapsed_ms(later: int, earlier: int) -> int:
    """Give the ms that passed; a clock that seems to run backwards counts as half a period.

    So a gap too long to measure makes everything that is timed run out, instead of last for ever.
    """
    gap_ms = ticks_diff(later, earlier)
    return gap_ms if gap_ms >= 0 else TICKS_HALF
