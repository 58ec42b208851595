"""How fast an electrode answers: from a step (a buffer), or from what is left of one (a tank that settles).

Pure of clocks. The glass itself answers in tens of milliseconds; slowness is the junction, a film or dirt.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

# One instrument guide takes 30 s for a healthy electrode; from 60 to 120 s on it is cleaned or replaced
# (from memory). Between them it is only slow.
HEALTHY_T95_S = 60.0
SLOW_T95_S = 120.0

LN_20 = math.log(20.0)
MIN_POINTS = 8
RATES = 40
"""Time constants tried between two samples and the length of the curve."""
CLEAR = 8.0
"""A curve counts when it falls by so many times the scatter that it leaves."""
BEND = 0.6
"""A straight line must leave so much more than the curve that the curve is one (share of squares left)."""


@dataclass(frozen=True, slots=True)
class Decay:
    """An exponential approach: time constant, what was missing at the first sample, what scatter is left."""

    tau_s: float
    missing: float
    scatter: float

    @property
    def t95_s(self) -> float:
        """Give the time to 95 % of a step by one time constant: tau ln 20."""
        return self.tau_s * LN_20


def step_t95_s(samples: Sequence[tuple[float, float]], final: float) -> float | None:
    """Give the time after which (time_s, value) samples stay within 5 % of the step to `final`.

    The step begins at the first sample. None when there is no step to judge by, or it never stays within.
    """
    if not samples:
        return None
    start_s, first = samples[0]
    within = 0.05 * abs(first - final)
    if within <= 0.0:
        return None
    outside = [time_s for time_s, value in samples if abs(value - final) > within]
    if outside[-1] >= samples[-1][0]:
        return None
    return next(time_s for time_s, _ in samples if time_s > outside[-1]) - start_s


def decay(samples: Sequence[tuple[float, float]]) -> Decay | None:
    """Fit final + missing e^(-t / tau) to (time_s, value) samples by least squares over a row of tau.

    None when nothing is seen to approach anything: too few samples, a fall lost in the scatter, or one as
    straight as a line, which is a drift and no answer to a step.
    """
    if len(samples) < MIN_POINTS:
        return None
    start_s, span_s = samples[0][0], samples[-1][0] - samples[0][0]
    if span_s <= 0.0:
        return None
    times = [time_s - start_s for time_s, _ in samples]
    values = [value for _, value in samples]
    shortest_s = span_s / len(samples)
    ratio = (span_s / shortest_s) ** (1.0 / RATES)
    fits = [_fitted(times, values, shortest_s * ratio**place) for place in range(RATES + 1)]
    squares, best = min(fits, key=lambda fit: fit[0])
    straight, _ = _line(times, values)
    if abs(best.missing) < CLEAR * best.scatter or squares > BEND * straight:
        return None
    return best


def _fitted(times: Sequence[float], values: Sequence[float], tau_s: float) -> tuple[float, Decay]:
    squares, missing = _line([math.exp(-time_s / tau_s) for time_s in times], values)
    return squares, Decay(tau_s, missing, math.sqrt(squares / (len(times) - 3)))


def _line(x: Sequence[float], y: Sequence[float]) -> tuple[float, float]:
    """Give the squares that a straight line leaves, and its slope."""
    n = len(x)
    mean_x, mean_y = math.fsum(x) / n, math.fsum(y) / n
    spread = math.fsum((one - mean_x) ** 2 for one in x)
    slope = math.fsum((a - mean_x) * (b - mean_y) for a, b in zip(x, y, strict=True)) / spread
    left = math.fsum((b - mean_y - slope * (a - mean_x)) ** 2 for a, b in zip(x, y, strict=True))
    return left, slope
