"""A peristaltic pump head: how much liquid or air it really moves per count.

Volume only. Where the liquid comes from is `stock.py`; the tubes before and after are `line.py`.
"""

from __future__ import annotations

import math

from sim.noise import gaussian, seed_for

PULSATION = 0.6
"""Depth of the ripple: flow goes from 0.4 to 1.6 of its mean over one roller (assumed; one sine)."""
DOSE_ERROR = 0.004
"""Standard deviation of a dose from its mean (short-run repeatability 0.5-1 %: trade figure, no source)."""
RUN_IN_SHARE = 0.015
RUN_IN_COUNTS = 50_000
WEAR_PER_COUNT = 2.0e-8
"""A tube relaxes by 1.5 % over its first 50 000 counts, then wears slowly (assumed)."""


class PeristalticPump:
    """One pump. `true_ml_per_count` is what a new tube moves per count, averaged over whole rollers."""

    __slots__ = ("_dose_factor", "_seed", "angle_counts", "counts", "counts_per_roller", "true_ml_per_count")

    def __init__(
        self,
        true_ml_per_count: float,
        counts_per_roller: int,
        seed: int = 0,
        name: str = "",
        counts_before: int = RUN_IN_COUNTS * 4,
        start_angle_counts: float = 0.0,
    ) -> None:
        self.true_ml_per_count = true_ml_per_count
        self.counts_per_roller = counts_per_roller
        self.counts = counts_before
        self.angle_counts = start_angle_counts % counts_per_roller
        self._seed = seed_for(seed, f"pump {name}")
        self._dose_factor = 1.0

    def begin_dose(self, dose_id: int) -> None:
        """Take the random error of this dose; the same id has the same error."""
        self._dose_factor = 1.0 + DOSE_ERROR * gaussian(self._seed, dose_id)

    def turn(self, counts: float) -> float:
        """Turn the rotor; return the volume swept, mL. Raises ValueError for a negative number of counts."""
        if counts < 0:
            raise ValueError(f"cannot turn {counts} counts")
        before = self.angle_counts
        after = before + counts
        swept_counts = counts + self._ripple(after) - self._ripple(before)
        factor = self.true_ml_per_count * self.wear_factor(self.counts + counts / 2.0) * self._dose_factor
        self.angle_counts = after % self.counts_per_roller
        self.counts += int(counts)
        return max(swept_counts, 0.0) * factor

    @staticmethod
    def wear_factor(counts: float) -> float:
        """Return what a tube moves after so many counts, over what it moved when new."""
        run_in = -math.expm1(-counts / RUN_IN_COUNTS)
        return max(1.0 - RUN_IN_SHARE * run_in - WEAR_PER_COUNT * counts, 0.0)

    def _ripple(self, angle_counts: float) -> float:
        """Return how far the delivery runs ahead of the mean at this angle, counts; 0 at whole rollers."""
        turns = angle_counts / self.counts_per_roller
        return -PULSATION * self.counts_per_roller / (2.0 * math.pi) * math.sin(2.0 * math.pi * turns)
