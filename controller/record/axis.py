"""Where values fall on a plot: scales, ticks on round numbers or full minutes, and thinning of points.

Arithmetic only; the drawing is in `plot_svg.py` and `timeline_svg.py`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from controller.record.words import later

_TIME_STEPS_S = (60, 120, 300, 600, 900, 1800, 3600, 7200, 10800, 21600, 43200, 86400)

_LONGEST_S = 366 * 86400.0

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Scale:
    """A straight scale from values `low` to `high` onto places `start` to `end`."""

    low: float
    high: float
    start: float
    end: float

    def at(self, value: float) -> float:
        """Give the place of a value; values outside are put on the nearer edge."""
        inside = min(max(value, self.low), self.high)
        return self.start + (inside - self.low) / (self.high - self.low) * (self.end - self.start)


def round_ticks(low: float, high: float, most: int = 6) -> tuple[float, ...]:
    """Give at most `most` round values from `low` to `high` (steps of 1, 2 or 5 times a power of ten)."""
    span = high - low
    power = 10.0 ** math.floor(math.log10(span / most))
    step = next(power * factor for factor in (1, 2, 5, 10, 20) if span / (power * factor) <= most - 1)
    first = math.ceil(low / step - 1e-9)
    return tuple(number * step for number in range(first, math.floor(high / step + 1e-9) + 1))


def time_ticks(start: datetime, from_s: float, to_s: float, most: int = 5) -> tuple[tuple[float, str], ...]:
    """Give (seconds since `start`, time of day) at full minutes or hours of the local clock.

    A stretch of many days is no batch but a damaged clock, and gets no ticks.
    """
    step_s = next((step for step in _TIME_STEPS_S if (to_s - from_s) / step <= most), None)
    if step_s is None or to_s > _LONGEST_S:
        return ()
    begin = later(start, from_s)
    since_midnight_s = begin.hour * 3600 + begin.minute * 60 + begin.second + begin.microsecond / 1e6
    tick_s = from_s + (-since_midnight_s) % step_s
    ticks = []
    while tick_s <= to_s:
        ticks.append((tick_s, later(start, tick_s).strftime("%H:%M")))
        tick_s += step_s
    return tuple(ticks)


def thin(points: Sequence[Point], columns: int) -> tuple[Point, ...]:
    """Keep the first, lowest, highest and last point of each of `columns` slices, so that no peak is lost."""
    if len(points) <= 4 * columns:
        return tuple(points)
    low, width = points[0][0], (points[-1][0] - points[0][0]) / columns or 1.0
    slices: dict[int, list[Point]] = {}
    for point in points:
        slices.setdefault(int((point[0] - low) / width), []).append(point)
    kept: list[Point] = []
    for group in slices.values():
        chosen = {group[0], min(group, key=lambda p: p[1]), max(group, key=lambda p: p[1]), group[-1]}
        kept += [point for point in dict.fromkeys(group) if point in chosen]
    return tuple(kept)
