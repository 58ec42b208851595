"""Millilitres to motor counts and back, for one calibrated pump, and how far a dose may be off.

Pure arithmetic on `Pump` values. Which doses are too small to be good is `dose_floor.py`; caps are the
board's work, rates and order are the plan's.
"""

from __future__ import annotations

import math

from controller.measure.pulsation import pulsation_sd_ml, steadiest_counts
from controller.settings.values import Pump

# Standard deviation of a dose of whole rollers (short runs repeat within 0.5 to 1 %: from memory, common
# practice, no source).
REPEATABILITY_SHARE = 0.005
# Standard uncertainty of `start_ml`: half of a drop of 0.05 mL either way, even (drop size from memory).
START_SD_ML = 0.025 / math.sqrt(3.0)
# Standard uncertainty of mL per count at the calibration itself: scale, density, evaporation, few deliveries
# (assumed).
_WEIGHED_SHARE = 0.003
# A tube may have drifted either way by so much, evenly likely: since a dated calibration, up to where a drift
# is warned of; without a date, as a pump out of the box (5 to 10 %: from memory, common practice, no source).
_DRIFTED_SHARE = 0.03
_UNDATED_SHARE = 0.05
# 95 % of a normal distribution lie within so many standard uncertainties (JCGM 100:2008, 6.2.2 and G.6.6).
COVERAGE_FACTOR = 2.0


class MeteringRefused(ValueError):
    """A dose or a pace that this pump must not be asked for. The text names pump, value and limit."""


class DoseBelowFloor(MeteringRefused):
    """The dose is below the smallest that the pump may meter."""


class PaceOutOfRange(MeteringRefused):
    """The pace is above the pump's fastest, or too slow for a whole count a second."""


def counts_for(pump: Pump, ml: float) -> int:
    """Give the whole number of counts, 1 at least, with the least expected squared error for `ml`.

    Whole rollers leave out what the start angle does, the nearest count what rounding does;
    `controller.measure.pulsation` weighs one against the other. What the chosen counts then give is `ml_for`.
    Raises DoseBelowFloor below `pump.min_dose_ml` (nothing is raised to the floor in silence) and ValueError
    on a value that is not finite.
    """
    return steadiest_counts(pump, _wanted_counts(pump, ml))


def ml_for(pump: Pump, counts: int) -> float:
    """Give the millilitres of a number of counts (0 or more; ValueError below) by the calibration's line.

    Nothing for no counts; else never below 0, whatever `pump.start_ml` is.
    """
    if counts < 0:
        raise ValueError(f"{pump.name}: counts cannot be negative: {counts}")
    return max(pump.start_ml + counts * pump.ml_per_count, 0.0) if counts else 0.0


def roller_ml(pump: Pump) -> float:
    """Give the millilitres that one roller carries: the size of one pulse of flow."""
    return pump.counts_per_roller * pump.ml_per_count


def whole_roller_counts(pump: Pump, ml: float) -> int:
    """Give the counts of the whole number of rollers nearest to `ml` (one roller at least).

    A dose of whole rollers does not depend on the angle at which the rotor stood. Raises as `counts_for`.
    """
    rollers = round(_wanted_counts(pump, ml) / pump.counts_per_roller)
    return max(1, rollers) * pump.counts_per_roller


def whole_roller_ml(pump: Pump, ml: float) -> float:
    """Give the amount of whole rollers nearest to `ml`, and not below `pump.min_dose_ml`.

    For whoever may choose the amount a little, as a trim may: the start angle does nothing to it, and
    `counts_for` gives whole rollers for it. Raises as `counts_for`.
    """
    counts = whole_roller_counts(pump, ml)
    while ml_for(pump, counts) < pump.min_dose_ml:
        counts += pump.counts_per_roller
    return ml_for(pump, counts)


def calibration_share(pump: Pump) -> float:
    """Give the standard uncertainty of `pump.ml_per_count`, as a share: the weighing, and what came since.

    Wear and relaxation since then are taken as evenly likely up to a limit (assumed), which is wider where
    nobody wrote down when the pump was weighed.
    """
    drifted = _DRIFTED_SHARE if pump.calibrated is not None else _UNDATED_SHARE
    return math.hypot(_WEIGHED_SHARE, drifted / math.sqrt(3.0))


def dose_uncertainty_ml(pump: Pump, ml: float, share: float | None = None) -> float:
    """Give how far a dose of `ml` may be off either way, mL: an expanded uncertainty with k = 2, some 95 %.

    The root of the sum of squares (JCGM 100:2008, 5.1.2) of: start angle of the rotor, what is left of `ml`
    next to whole counts, repeatability, doubt of `start_ml`, and `share`, the standard uncertainty of mL per
    count as a share (None: `calibration_share`). Nothing for a dose of nothing. Not in it: air, blockage, an
    empty bottle, a thick liquid that is pumped too fast. ValueError on negative or non-finite values.
    """
    share = calibration_share(pump) if share is None else share
    _require_finite(ml, "ml")
    _require_finite(share, "share")
    if ml < 0 or share < 0:
        raise ValueError(f"{pump.name}: dose and share cannot be negative: {ml} mL, {share}")
    if ml == 0:
        return 0.0
    counts = max(round((ml - pump.start_ml) / pump.ml_per_count), 0)
    return COVERAGE_FACTOR * math.hypot(
        pulsation_sd_ml(pump, counts),
        ml - ml_for(pump, counts),
        REPEATABILITY_SHARE * ml,
        START_SD_ML,
        share * ml,
    )


def pace_counts_per_s(pump: Pump, ml_min: float) -> int:
    """Give the fastest whole counts per second that does not exceed `ml_min`.

    Raises PaceOutOfRange above `pump.max_ml_min` or below one count per second; ValueError when not finite.
    """
    _require_finite(ml_min, "ml_min")
    if ml_min > pump.max_ml_min:
        raise PaceOutOfRange(
            f"{pump.name}: {ml_min:g} mL/min is above its fastest pace, {pump.max_ml_min:g} mL/min"
        )
    # The tiny surplus keeps a pace that is a whole number of counts from falling to the one below.
    counts = math.floor(ml_min / 60.0 / pump.ml_per_count * (1.0 + 1e-12))
    if counts < 1:
        raise PaceOutOfRange(f"{pump.name}: {ml_min:g} mL/min is slower than one count a second")
    return counts


def _wanted_counts(pump: Pump, ml: float) -> float:
    """Give the counts that would give just `ml`, not rounded. Raises as `counts_for`."""
    _require_finite(ml, "ml")
    if ml < pump.min_dose_ml:
        raise DoseBelowFloor(
            f"{pump.name}: {ml:.3g} mL is below the smallest dose it may meter, {pump.min_dose_ml:g} mL"
        )
    return (ml - pump.start_ml) / pump.ml_per_count


def _require_finite(value: float, name: str) -> None:
    """Raise ValueError unless `value` is a finite number."""
    if not math.isfinite(value):
        raise ValueError(f"{name}: not a finite number: {value}")
