"""A reading that comes to rest: slope and scatter over a window, and the doubt of the mean.

Pure of clocks: every sample brings its own time. A reading may be a pH or millivolts; the limits are in the
same unit. That stir, air and pumps are off is the run's work.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

# Fewer samples in a window, or a longer gap between two, prove nothing about the time between them.
MIN_SAMPLES = 5
MAX_GAP_SHARE = 1.0 / 3.0

# A window that is too rough is made longer, by these times its shortest length, as far as samples reach.
LONGER = (1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 8.0)

# The mean is good enough when its standard error is this share of the slope that is allowed, and single
# samples are a fault of the probe when they scatter by this many times it (both assumed).
MEAN_SHARE = 0.5

# The slope must be within its limit with a probability of 95 %, one-sided (normal distribution).
COVERAGE = 1.645
GROSS = 5.0


@dataclass(frozen=True, slots=True)
class Rest:
    """A reading at rest. `doubt` is the standard uncertainty of `mean` by the samples alone."""

    mean: float
    doubt: float
    scatter: float
    window_s: float


@dataclass(frozen=True, slots=True)
class Trend:
    """What one window shows: mean, slope a second, and the standard errors of both.

    `scatter` is the standard deviation of single samples about the line.
    """

    mean: float
    slope_s: float
    scatter: float
    mean_error: float
    slope_error_s: float
    window_s: float


def trend(window: Sequence[tuple[float, float]]) -> Trend:
    """Draw a straight line through (time_s, value) samples by least squares; at least three times apart.

    Neighbouring samples that err alike are worth fewer: with lag-one correlation r of the residuals n of them
    count as n (1 - r) / (1 + r) (first-order autoregression; Bayley & Hammersley 1946, from memory). r of a
    short window comes out too low by about (1 + 3 r) / n (Marriott & Pope 1954, from memory), and a negative
    r is not believed.
    """
    n = len(window)
    mean_s = math.fsum(t for t, _ in window) / n
    mean = math.fsum(v for _, v in window) / n
    spread = math.fsum((t - mean_s) ** 2 for t, _ in window)
    slope = math.fsum((t - mean_s) * (v - mean) for t, v in window) / spread
    left = [v - mean - slope * (t - mean_s) for t, v in window]
    squares = math.fsum(one * one for one in left)
    scatter = math.sqrt(squares / (n - 2))
    worth = _worth(left, squares)
    return Trend(
        mean=mean,
        slope_s=slope,
        scatter=scatter,
        mean_error=scatter / math.sqrt(worth),
        slope_error_s=scatter / math.sqrt(spread * worth / n),
        window_s=window[-1][0] - window[0][0],
    )


def _worth(left: Sequence[float], squares: float) -> float:
    """Give how many independent samples these residuals are worth, at least 2."""
    n = len(left)
    if squares <= 0.0:
        return float(n)
    r = math.fsum(a * b for a, b in pairwise(left)) / squares
    r = min(max(r + (1.0 + 3.0 * r) / n, 0.0), 0.95)
    return max(n * (1.0 - r) / (1.0 + r), 2.0)


class Steadiness:
    """The samples of one reading, as far back as a window may reach. Mutable, and pure of clocks.

    A reading rests when over a window of `stable_s` or longer (a) its slope with 1.645 times the slope's own
    standard error comes to at most `stable` in `stable_s`, (b) the standard error of its mean is at most half
    of `stable`, and (c) single samples scatter by at most five times `stable`. Noise alone lengthens the
    window; (a) and (b) then pass by themselves. The form of the test is assumed; that a reading counts when
    it changes by 0.01 to 0.02 pH in 30 to 60 s is laboratory practice (from memory).
    """

    def __init__(self, stable_s: float, stable: float, resolution: float = 0.0) -> None:
        if not (stable_s > 0 and stable > 0):
            raise ValueError(f"stable_s and stable must be above 0: {stable_s} s, {stable}")
        self._stable_s = stable_s
        self._stable = stable
        self._resolution = resolution
        self._samples: deque[tuple[float, float]] = deque()

    def add(self, time_s: float, value: float) -> None:
        """Take one sample. Times must not run backwards and values must be finite (ValueError)."""
        if not (math.isfinite(time_s) and math.isfinite(value)):
            raise ValueError(f"a sample must be finite: {time_s} s, {value}")
        if self._samples and time_s < self._samples[-1][0]:
            raise ValueError(f"samples run backwards: {time_s} s after {self._samples[-1][0]} s")
        self._samples.append((time_s, value))
        # The sample just before the longest window stays: it proves that it is covered from its start.
        while len(self._samples) > 1 and self._samples[1][0] <= time_s - LONGER[-1] * self._stable_s:
            self._samples.popleft()

    def clear(self) -> None:
        """Forget everything: the tank was disturbed, or a reading was missing."""
        self._samples.clear()

    def rest(self) -> Rest | None:
        """Give the reading over the shortest latest window in which it rests; None when it does not.

        The doubt is the standard error of the mean, a movement of the whole window as a rectangular spread
        and the step of the converter (GUM 4.3.7), added in squares.
        """
        samples = list(self._samples)
        for times in LONGER:
            window = latest(samples, times * self._stable_s, MAX_GAP_SHARE * self._stable_s)
            if window is None:
                return None
            seen = trend(window)
            if self._rests(seen):
                moved = seen.slope_s * seen.window_s
                parts = (seen.mean_error**2, moved**2 / 12.0, self._resolution**2 / 12.0)
                return Rest(seen.mean, math.sqrt(math.fsum(parts)), seen.scatter, seen.window_s)
        return None

    def scatter(self) -> float | None:
        """Give how single samples scatter in the latest `stable_s`; None when they do not cover it."""
        window = latest(list(self._samples), self._stable_s, MAX_GAP_SHARE * self._stable_s)
        return None if window is None else trend(window).scatter

    @property
    def gross(self) -> float:
        """Give the scatter of single samples from which on the probe is faulty."""
        return GROSS * self._stable

    @property
    def samples(self) -> tuple[tuple[float, float], ...]:
        """Give what it holds, the oldest first."""
        return tuple(self._samples)

    def _rests(self, seen: Trend) -> bool:
        most_s = self._stable / self._stable_s
        return (
            seen.scatter <= self.gross
            and abs(seen.slope_s) + COVERAGE * seen.slope_error_s <= most_s
            and seen.mean_error <= MEAN_SHARE * self._stable
        )

    def __len__(self) -> int:
        return len(self._samples)


def latest(
    samples: Sequence[tuple[float, float]], span_s: float, gap_s: float
) -> list[tuple[float, float]] | None:
    """Cut the latest `span_s` out of the samples; None when they do not cover it without a longer gap."""
    if not samples:
        return None
    start_s = samples[-1][0] - span_s
    window: list[tuple[float, float]] = []
    later_s = samples[-1][0]
    for time_s, value in reversed(samples):
        if later_s - time_s > gap_s:
            return None
        window.append((time_s, value))
        later_s = time_s
        if time_s <= start_s:
            window.reverse()
            return window if len(window) >= MIN_SAMPLES else None
    return None
