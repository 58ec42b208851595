"""The tube of one pump: what it moves by a count as its weighed doses show it, and when it is too far off.

Pure. A running mean of weighed doses, the newest counting most, with the calibration as a first guess; what
to do about a tube is said elsewhere.

Weights are one over the variance of each dose (weighted mean, JCGM 100:2008). What was known before grows
doubtful with the counts that the tube makes, as a random walk does (Kalman, J. Basic Eng. 82 (1960) 35): a
small dose, which a scale can hardly tell, then neither teaches much nor makes anything forgotten. One dose
far off the estimate may be air, a blockage or a hand at the scale: it only makes the tube doubtful, and a
second one that agrees with it makes it the tube. That a tube drifts 5 to 20 % over its life, most of it in
the first hours, and repeats a dose within 0.5 to 1 %, is from memory; 3 % and 8 % are common practice, no
source.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from enum import Enum

WARN_SHARE = 0.03
REFUSE_SHARE = 0.08
"""So far off its calibration a tube is told of, and no longer used."""
WANDERS_SHARE = 0.003
WANDERS_COUNTS = 100_000
"""A tube wanders off by so much (standard deviation) within so many counts (assumed: more than a run-in tube
wears by, and less than a new one)."""
CALIBRATED_STANDARD_SHARE = 0.005
"""Standard doubt of the calibration as a first guess, as a share (assumed: ten deliveries by weight, a day of
use). A tube that has drifted further since is found by its first good weighings, or taken for another."""
REPEAT_SHARE = 0.005
"""Standard deviation of one dose from the tube's mean, as a share (from memory: 0.5 to 1 %)."""
JUMP_SIGMAS = 5.0
"""A dose that is further off the estimate than this comes from another tube, or from no tube at all."""
AGREE_SIGMAS = 2.0
"""A dose no further off than this agrees (95 % of those that belong together do)."""
TUBE_SHARES = (0.7, 1.3)
"""Outside these a dose tells of air, a blockage or a wrong bottle and not of the tube (assumed)."""


class TubeVerdict(Enum):
    """What is to be thought of a tube."""

    SOUND = "sound"
    DRIFTS = "drifts"
    REFUSED = "refused"


@dataclass(frozen=True, slots=True)
class TubeDose:
    """One weighed dose: counts, mL by weight, and its expanded uncertainty (k = 2), mL."""

    counts: int
    ml: float
    uncertainty_ml: float


@dataclass(frozen=True, slots=True)
class ShareSeen:
    """What one dose says of its tube: a share of the calibration, and its variance."""

    share: float
    variance: float


@dataclass(frozen=True, slots=True)
class TubeEstimate:
    """What a tube moves, as a share of its calibration: the estimate and its standard doubt.

    `unconfirmed` is the last dose that was too far off to be believed alone; `doses` is how many it rests on.
    """

    calibrated_ml_per_count: float
    share: float = 1.0
    known_share: float = CALIBRATED_STANDARD_SHARE
    doses: int = 0
    unconfirmed: ShareSeen | None = None

    @property
    def standard_share(self) -> float:
        """Give the standard doubt; with an unconfirmed dose it is wide enough (k = 2) to hold it as well."""
        if self.unconfirmed is None:
            return self.known_share
        return math.hypot(self.known_share, (self.unconfirmed.share - self.share) / 2.0)

    @property
    def ml_per_count(self) -> float:
        """Give the mL of one count."""
        return self.share * self.calibrated_ml_per_count

    @property
    def between_ml_per_count(self) -> float:
        """Give the mL of one count half-way to an unconfirmed dose: least wrong while either may be true."""
        if self.unconfirmed is None:
            return self.ml_per_count
        return (self.share + self.unconfirmed.share) / 2.0 * self.calibrated_ml_per_count

    @property
    def drift_share(self) -> float:
        """Give how far it is off the calibration, as a share; below 0 it moves less."""
        return self.share - 1.0

    @property
    def verdict(self) -> TubeVerdict:
        """Judge the tube; a drift within its own doubt (k = 2) is none."""
        off = abs(self.drift_share)
        if not self.doses or off <= 2.0 * self.standard_share:
            return TubeVerdict.SOUND
        if off > REFUSE_SHARE:
            return TubeVerdict.REFUSED
        return TubeVerdict.DRIFTS if off > WARN_SHARE else TubeVerdict.SOUND


def with_dose(tube: TubeEstimate, dose: TubeDose) -> TubeEstimate:
    """Take in one more weighed dose; one that cannot come from the tube alone is passed over.

    Raises ValueError for values that are not finite or an uncertainty that is not above 0.
    """
    if not (math.isfinite(dose.ml) and math.isfinite(dose.uncertainty_ml) and dose.uncertainty_ml > 0.0):
        raise ValueError(f"no weighed dose: {dose.ml} mL, uncertainty {dose.uncertainty_ml} mL")
    counted_ml = dose.counts * tube.calibrated_ml_per_count
    if counted_ml <= 0.0:
        return tube
    share = dose.ml / counted_ml
    if not TUBE_SHARES[0] <= share <= TUBE_SHARES[1]:
        return tube
    seen = ShareSeen(share, (dose.uncertainty_ml / 2.0 / counted_ml) ** 2 + REPEAT_SHARE**2)
    before = ShareSeen(tube.share, tube.known_share**2 + WANDERS_SHARE**2 * dose.counts / WANDERS_COUNTS)
    other = tube.unconfirmed
    confirms = other is not None and _sigmas(seen, other) <= AGREE_SIGMAS
    if other is not None and confirms and _sigmas(seen, before) > AGREE_SIGMAS:
        return _joined(replace(tube, doses=tube.doses + 1), other, seen)
    if _sigmas(seen, before) > JUMP_SIGMAS:
        return replace(tube, unconfirmed=seen)
    # A small dose may agree with both, and then decides nothing.
    return replace(_joined(tube, before, seen), unconfirmed=other if confirms else None)


def _sigmas(one: ShareSeen, other: ShareSeen) -> float:
    """Give how far two are apart, in standard uncertainties of their difference."""
    return abs(one.share - other.share) / math.sqrt(one.variance + other.variance)


def _joined(tube: TubeEstimate, known: ShareSeen, told: ShareSeen) -> TubeEstimate:
    """Give the tube with the weighted mean of two, and one dose more."""
    weight, more = 1.0 / known.variance, 1.0 / told.variance
    mean = (weight * known.share + more * told.share) / (weight + more)
    return TubeEstimate(tube.calibrated_ml_per_count, mean, (weight + more) ** -0.5, tube.doses + 1)


def tube_from(calibrated_ml_per_count: float, doses: Iterable[TubeDose]) -> TubeEstimate:
    """Fold weighed doses, oldest first, into what is known of a tube since its calibration."""
    tube = TubeEstimate(calibrated_ml_per_count)
    for dose in doses:
        tube = with_dose(tube, dose)
    return tube
