"""Millilitres to motor counts and back, for one calibrated pump.

Pure arithmetic on `Pump` values. What the tube may do wrong is stated as an uncertainty; caps are the
board's work, rates and order are the plan's.
"""

from __future__ import annotations

import math

from controller.settings.values import Pump

# Doubt of a calibrated peristaltic pump as a share of the dose (from memory, common practice, no source:
# repeatability 0.5 to 1 %, and drift since the calibration).
CALIBRATED_SHARE = 0.02


class MeteringRefused(ValueError):
    """A dose or a pace that this pump must not be asked for. The text names pump, value and limit."""


class DoseBelowFloor(MeteringRefused):
    """The dose is below the smallest that the pump may meter."""


class PaceOutOfRange(MeteringRefused):
    """The pace is above the pump's fastest, or too slow for a whole count a second."""


def counts_for(pump: Pump, ml: float) -> int:
    """Give the whole number of counts nearest to `ml`.

    Raises DoseBelowFloor below `pump.min_dose_ml` (nothing is raised to the floor in silence) and
    ValueError on a value that is not finite.
    """
    _require_finite(ml, "ml")
    if ml < pump.min_dose_ml:
        raise DoseBelowFloor(
            f"{pump.name}: {ml:.3g} mL is below the smallest dose it may meter, {pump.min_dose_ml:g} mL"
        )
    return round(ml / pump.ml_per_count)


def ml_for(pump: Pump, counts: int) -> float:
    """Give the millilitres of a number of counts (0 or more; ValueError below)."""
    if counts < 0:
        raise ValueError(f"{pump.name}: counts cannot be negative: {counts}")
    return counts * pump.ml_per_count


def roller_ml(pump: Pump) -> float:
    """Give the millilitres that one roller carries: the size of one pulse of flow."""
    return pump.counts_per_roller * pump.ml_per_count


def whole_roller_counts(pump: Pump, ml: float) -> int:
    """Give the counts of the whole number of rollers nearest to `ml` (one roller at least).

    A dose of whole rollers does not depend on the angle at which the rotor stood. Raises as `counts_for`.
    """
    counts_for(pump, ml)
    return max(1, round(ml / roller_ml(pump))) * pump.counts_per_roller


def dose_uncertainty_ml(pump: Pump, ml: float, share: float = CALIBRATED_SHARE) -> float:
    """Give how far a dose of `ml` may be off, in mL: one roller's pulse plus `share` of the dose.

    A plain bound, not a standard deviation: the pulse depends on the angle at which the rotor stood
    (common practice), `share` on calibration and wear. ValueError on negative or non-finite values.
    """
    _require_finite(ml, "ml")
    _require_finite(share, "share")
    if ml < 0 or share < 0:
        raise ValueError(f"{pump.name}: dose and share cannot be negative: {ml} mL, {share}")
    return roller_ml(pump) + share * ml


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


def _require_finite(value: float, name: str) -> None:
    """Raise ValueError unless `value` is a finite number."""
    if not math.isfinite(value):
        raise ValueError(f"{name}: not a finite number: {value}")
