"""A peristaltic pump head: the volume that its rollers sweep, count by count.

Swept volume of a tube that stands full open before each roller. How full it really is follows from what it
draws (`tubing.py`); where the liquid comes from is `bottle.py`.
"""

from __future__ import annotations

import math

from sim.noise import gaussian, seed_for

DIP_DEPTH = 1.0
DIP_SHARE = 0.35
"""Flow is flat but for a dip as a roller lets go of the tube, which then fills again from the outlet side.

That it dips there is common practice, no source; depth (of the mean flow), width (of the way from one roller
to the next) and the cosine shape are assumed.
"""
DOSE_ERROR = 0.004
"""Standard deviation of a dose from its mean (short-run repeatability 0.5-1 %: trade figure, no source)."""
RUN_IN_SHARE = 0.015
RUN_IN_COUNTS = 50_000
WEAR_SHARE = 0.2
WEAR_COUNTS = 10_000_000
"""A tube relaxes by 1.5 % over its first counts and loses up to a fifth over its life (from memory: 5-20 %,
most of it in the first hours; the exponential shape is assumed)."""

_PLATEAU = DIP_DEPTH * DIP_SHARE / 2.0


class PeristalticPump:
    """One pump. `true_ml_per_count` is what a new tube moves per count, averaged over whole rollers.

    Swept volume follows from counts and angle in closed form, so that pieces of a motion add up to the whole.
    A tube does not recover while it rests (it does, a little; left out).
    """

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
        self.counts = float(counts_before)
        self.angle_counts = start_angle_counts % counts_per_roller
        self._seed = seed_for(seed, f"pump {name}")
        self._dose_factor = 1.0

    @property
    def roller_ml(self) -> float:
        """Give what stands between two rollers in a new tube."""
        return self.true_ml_per_count * self.counts_per_roller

    def begin_dose(self, dose_id: int) -> None:
        """Take the random error of this dose; the same id has the same error."""
        self._dose_factor = 1.0 + DOSE_ERROR * gaussian(self._seed, dose_id)

    def turn(self, counts: float) -> float:
        """Turn the rotor; return the volume swept, mL. Raises ValueError for a negative number of counts."""
        if counts < 0:
            raise ValueError(f"cannot turn {counts} counts")
        before = self._worn_counts()
        self.counts += counts
        self.angle_counts = (self.angle_counts + counts) % self.counts_per_roller
        swept_counts = self._worn_counts() - before
        return max(swept_counts, 0.0) * self.true_ml_per_count * self._dose_factor

    def turn_back(self, counts: float) -> float:
        """Turn the rotor backwards by a few counts; return the volume swept back, mL, as it went forward."""
        if counts < 0:
            raise ValueError(f"cannot turn back {counts} counts")
        before = self._worn_counts()
        self.counts -= counts
        self.angle_counts = (self.angle_counts - counts) % self.counts_per_roller
        return max(before - self._worn_counts(), 0.0) * self.true_ml_per_count * self._dose_factor

    @staticmethod
    def wear_factor(counts: float) -> float:
        """Return what a tube moves after so many counts, over what it moved when new."""
        relaxed = -math.expm1(-counts / RUN_IN_COUNTS)
        worn = -math.expm1(-counts / WEAR_COUNTS)
        return 1.0 - RUN_IN_SHARE * relaxed - WEAR_SHARE * worn

    def _worn_counts(self) -> float:
        """Return all counts so far as counts of a new tube: the integral of wear, and the ripple upon it."""
        counts = self.counts
        relaxed = counts + RUN_IN_COUNTS * math.expm1(-counts / RUN_IN_COUNTS)
        worn = counts + WEAR_COUNTS * math.expm1(-counts / WEAR_COUNTS)
        even = counts - RUN_IN_SHARE * relaxed - WEAR_SHARE * worn
        return even + self.wear_factor(counts) * self._lead()

    def _lead(self) -> float:
        """Return how far the volume runs ahead of the mean at this angle, counts; 0 as a roller lets go."""
        turned = self.angle_counts / self.counts_per_roller
        in_dip = min(turned, DIP_SHARE)
        lost = in_dip - DIP_SHARE / (2.0 * math.pi) * math.sin(2.0 * math.pi * in_dip / DIP_SHARE)
        return self.counts_per_roller * (_PLATEAU * turned - DIP_DEPTH / 2.0 * lost)
