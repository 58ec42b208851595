"""How a peristaltic pump's volume depends on the angle at which its rotor stood, which nobody knows.

Pure arithmetic on `Pump` values, in rollers and counts. What a dose may be off in all is `metering.py`, which
doses are too small for it `dose_floor.py`.
"""

from __future__ import annotations

import math

from controller.settings.values import Pump

PULSATION_SHARE = 0.25
"""Stand-in for a pump whose pulsation nobody measured: as if the flow stood still for a quarter of the way
from one roller to the next (assumed, meant to be cautious)."""


def pulsation_sd_ml(pump: Pump, counts: int) -> float:
    """Give the standard deviation of a dose of `counts`, mL, over all angles where the rotor may have stood.

    Flow dips once a roller (common practice). With only the first harmonic of that ripple (assumed), the
    volume runs A sin(2 pi x) ahead of its mean after x rollers. Over an even start angle a dose of x rollers
    then has the variance A^2 (1 - cos(2 pi x)) = 2 A^2 sin^2(pi x): none after whole rollers, most half-way
    between them. A is half of the peak-to-peak `pulsation_share`. A sharper dip than a sine has a little more
    for less than a quarter of a roller, and less half-way.
    """
    share = PULSATION_SHARE if pump.pulsation_share is None else pump.pulsation_share
    over = counts % pump.counts_per_roller / pump.counts_per_roller
    roller_ml = pump.counts_per_roller * pump.ml_per_count
    return math.sqrt(2.0) * share / 2.0 * math.sin(math.pi * over) * roller_ml


def steadiest_counts(pump: Pump, wanted_counts: float) -> int:
    """Give the whole counts, at least 1, with the least expected squared error for a wanted number of them.

    Expected squared error = (what rounding leaves)^2 + variance by the start angle. The best lies between the
    nearest count and the nearest whole roller: anything beyond either has a better mirror image on this side.
    In there the sum falls and then rises, for its slope is the sum of a line and one arch of a sine, so that
    halving finds the least of it.
    """
    per_roller = pump.counts_per_roller
    nearest = max(round(wanted_counts), 1)
    whole = max(round(wanted_counts / per_roller) * per_roller, 1)
    low, high = min(nearest, whole), max(nearest, whole)
    while low < high:
        middle = (low + high) // 2
        if _squared_ml2(pump, middle, wanted_counts) <= _squared_ml2(pump, middle + 1, wanted_counts):
            high = middle
        else:
            low = middle + 1
    return low


def _squared_ml2(pump: Pump, counts: int, wanted_counts: float) -> float:
    rounded_ml = (counts - wanted_counts) * pump.ml_per_count
    return rounded_ml**2 + pulsation_sd_ml(pump, counts) ** 2
