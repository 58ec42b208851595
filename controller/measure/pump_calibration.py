"""What a series of weighed deliveries says of a pump: a line from counts to mL, and its doubt.

Pure arithmetic on weighings that `bench_weighings.py` has found no slip in. How they were made, and what is
written because of them, is told elsewhere.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass

from controller.measure.calibration_budget import BudgetLine, Weighed, budget
from controller.measure.least_squares import Fitted, fit
from controller.measure.student import t_quantile
from controller.measure.weighed_delivery import WeighedDelivery, by_counts
from controller.settings.values import Pump

COVERAGE_FACTOR = 2.0
"""For some 95 % (JCGM 100:2008, 6.2.2 and G.6.6)."""
DROP_SD_ML = 0.025 / math.sqrt(3.0)
"""Half a drop of 0.05 mL either way stays at the tube's end or falls (drop size from memory)."""
LEAST_SHARE = 2e-4
SIGNIFICANT = 0.01


@dataclass(frozen=True, slots=True)
class VolumePoint:
    """One volume: what its deliveries gave. `bias_share` is against the present setting, `off_line_share`
    against the line found now.
    """

    counts: int
    deliveries: int
    setting_ml: float
    mean_ml: float
    cv_share: float
    bias_share: float
    off_line_share: float
    expanded_ml: float


@dataclass(frozen=True, slots=True)
class Ripple:
    """Pulsation with the angle of the rotor: half of its peak-to-peak, mL, and its standard uncertainty."""

    amplitude_ml: float
    deviation_ml: float


@dataclass(frozen=True, slots=True)
class PumpCalibration:
    """The line mL = `start_ml` + counts x `ml_per_count`, with its doubt (expanded, k = 2).

    Whether that is good enough is `calibration_limits.py`.
    """

    ml_per_count: float
    start_ml: float
    expanded_ml_per_count: float
    expanded_start_ml: float
    dof: float
    points: tuple[VolumePoint, ...]
    budget: tuple[BudgetLine, ...]
    ripple: Ripple | None

    @property
    def bias_share(self) -> float:
        """Give how far the largest volume lies off the present setting."""
        return self.points[-1].bias_share


def calibrate(pump: Pump, deliveries: Sequence[WeighedDelivery], weighed: Weighed) -> PumpCalibration:
    """Work out a calibration from at least three volumes.

    Raises ValueError when the deliveries cannot give a line; `bench_weighings.slips` says so before in words.
    """
    volumes_ml = [weighed.ml(one) for one in deliveries]
    deviations = _deviations(pump, deliveries, volumes_ml, weighed)
    ripple, line = _line(pump, deliveries, volumes_ml, deviations)
    start_ml, ml_per_count = line.values[0], line.values[1]
    top_ml = max(volumes_ml)
    lines = budget(weighed, top_ml, line.deviation(1) / ml_per_count, line.dof)
    share = math.sqrt(math.fsum(one.standard_share**2 for one in lines))
    points = tuple(
        _point(pump, counts, ml, line, share) for counts, ml in by_counts(deliveries, volumes_ml).items()
    )
    return PumpCalibration(
        ml_per_count=ml_per_count,
        start_ml=start_ml,
        expanded_ml_per_count=COVERAGE_FACTOR * share * ml_per_count,
        expanded_start_ml=COVERAGE_FACTOR * math.hypot(line.deviation(0), weighed.start_deviation_ml),
        dof=_effective_dof(lines, share),
        points=points,
        budget=lines,
        ripple=ripple,
    )


def _deviations(
    pump: Pump, deliveries: Sequence[WeighedDelivery], volumes_ml: Sequence[float], weighed: Weighed
) -> list[float]:
    """Give every delivery its standard deviation: what is the same for all, and a share of the amount.

    The same for all: reading the balance twice, and the drop at the tube's end. The share is pooled from the
    repeats of all volumes, after taking off what is the same for all.
    """
    same_ml = math.hypot(weighed.reading_deviation_ml, DROP_SD_ML)
    shares, dof = 0.0, 0
    for group in by_counts(deliveries, volumes_ml).values():
        if len(group) > 1:
            more = max(statistics.variance(group) - same_ml**2, 0.0)
            shares += (len(group) - 1) * more / statistics.fmean(group) ** 2
            dof += len(group) - 1
    share = max(math.sqrt(shares / dof) if dof else 0.0, LEAST_SHARE)
    return [
        math.sqrt(same_ml**2 + (share * ml) ** 2 + _start_angle_ml(pump, one.counts) ** 2)
        for one, ml in zip(deliveries, volumes_ml, strict=True)
    ]


def _start_angle_ml(pump: Pump, counts: int) -> float:
    """Give what the start angle may do to a delivery, mL: nothing after whole rollers.

    At most a quarter of a roller's volume either way, evenly likely: the flow never runs backwards, and the
    worst that is left is a pump that delivers a roller's whole volume in half of its way (assumed).
    """
    if counts % pump.counts_per_roller == 0:
        return 0.0
    return pump.counts_per_roller * pump.ml_per_count / 4.0 / math.sqrt(3.0)


def _line(
    pump: Pump, deliveries: Sequence[WeighedDelivery], volumes_ml: Sequence[float], deviations: list[float]
) -> tuple[Ripple | None, Fitted]:
    """Fit the line, with the first harmonic of the pulsation where the deliveries show it.

    Angles are counted on from the first delivery, which is right while nothing else turns the pump.
    """
    plain = [(1.0, float(one.counts)) for one in deliveries]
    line = fit(plain, volumes_ml, deviations)
    if all(one.counts % pump.counts_per_roller == 0 for one in deliveries):
        return None, line
    without = [
        math.sqrt(max(deviation**2 - _start_angle_ml(pump, one.counts) ** 2, 0.0))
        for deviation, one in zip(deviations, deliveries, strict=True)
    ]
    turned, rows = 0, []
    for one in deliveries:
        before = 2.0 * math.pi * turned / pump.counts_per_roller
        turned += one.counts
        after = 2.0 * math.pi * turned / pump.counts_per_roller
        rows.append(
            (1.0, float(one.counts), math.cos(after) - math.cos(before), math.sin(after) - math.sin(before))
        )
    try:
        waved = fit(rows, volumes_ml, without)
    except ValueError:
        return None, line
    cosine, sine = waved.values[2], waved.values[3]
    ripple = Ripple(math.hypot(cosine, sine), math.hypot(waved.deviation(2), waved.deviation(3)))
    shown = ripple.amplitude_ml > t_quantile(1.0 - SIGNIFICANT, waved.dof) * ripple.deviation_ml
    return (ripple, waved) if shown else (None, line)


def _point(pump: Pump, counts: int, ml: Sequence[float], line: Fitted, share: float) -> VolumePoint:
    mean_ml = statistics.fmean(ml)
    setting_ml = pump.start_ml + counts * pump.ml_per_count
    on_line_ml = line.values[0] + counts * line.values[1]
    spread_ml = statistics.stdev(ml) if len(ml) > 1 else 0.0
    both = line.covariance
    here = both[0][0] + 2.0 * counts * both[0][1] + counts**2 * both[1][1]
    of_line_ml = math.sqrt(here) * max(line.birge, 1.0)
    type_b = math.sqrt(max(share**2 - (line.deviation(1) / line.values[1]) ** 2, 0.0))
    return VolumePoint(
        counts=counts,
        deliveries=len(ml),
        setting_ml=setting_ml,
        mean_ml=mean_ml,
        cv_share=spread_ml / mean_ml,
        bias_share=mean_ml / setting_ml - 1.0,
        off_line_share=mean_ml / on_line_ml - 1.0,
        expanded_ml=COVERAGE_FACTOR * math.hypot(of_line_ml, type_b * mean_ml),
    )


def _effective_dof(lines: Sequence[BudgetLine], share: float) -> float:
    """Give the effective degrees of freedom by Welch and Satterthwaite (JCGM 100:2008, G.4.1)."""
    below = math.fsum(one.standard_share**4 / one.dof for one in lines if one.dof != math.inf)
    return share**4 / below if below > 0.0 else math.inf
