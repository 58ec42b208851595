"""Whether what the counts claim has come into the tank, by the level of the still tank before and after.

Statistics only: means of level readings, what was moved between two of them, and a verdict. When a tank is
still, and what a verdict leads to, is not known here.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from enum import Enum

from controller.measure.metering import COVERAGE_FACTOR

DECIDE = 4.5
"""Standard doubts that a difference must have to be told: by chance once in 300,000 looks each way."""
SURE = 2.0
"""How many more a loss must have so that it is told nearly always (98 of 100). Decision limit and detection
limit after Currie, Anal. Chem. 40 (1968) 586 (from memory), with a far smaller chance of a false alarm."""
LEVEL_SHARE = 0.01
"""Standard doubt of a change of level as a share of it: sensor span and tank diameter (assumed)."""
READ_TO_MM = 0.1
"""The board gives the level in steps of this; a mean is believed no further than one such step allows."""
LEAST_LOOKS = 8


class Verdict(Enum):
    """What the level says of an expected volume."""

    ARRIVED = "arrived"
    MISSING = "missing"
    MORE = "more than expected"
    CANNOT_TELL = "cannot tell"


@dataclass(frozen=True, slots=True)
class StillLevel:
    """The contents of the still tank by its level, and the standard doubt of that mean, L.

    `sinking_l` is how far the level sank while it was watched before: what foam may still lift it by.
    """

    mean_l: float
    doubt_l: float
    sinking_l: float = 0.0


@dataclass(frozen=True, slots=True)
class Moved:
    """What one motion of a pump claims, mL, and its expanded uncertainty (k = 2).

    `weighed`: by a scale. `dose_id` is its name in the record.
    """

    name: str
    pump: str
    ml: float
    expanded_ml: float
    weighed: bool = False
    dose_id: int = 0


@dataclass(frozen=True, slots=True)
class Arrival:
    """What was expected and what the level shows, L, with the standard doubt of the difference."""

    verdict: Verdict
    wanted_l: float
    seen_l: float
    doubt_l: float

    @property
    def missing_l(self) -> float:
        """Give how much less came than was expected, L; negative when more came."""
        return self.wanted_l - self.seen_l


class LevelWindow:
    """Level readings of a still tank, L, of which the mean is wanted."""

    def __init__(self, litres_per_mm: float) -> None:
        self._step_l = READ_TO_MM * litres_per_mm
        self._seen_l: list[float] = []

    def __len__(self) -> int:
        """Count the readings."""
        return len(self._seen_l)

    def add(self, level_l: float) -> None:
        """Take one reading."""
        self._seen_l.append(level_l)

    def mean(self) -> StillLevel | None:
        """Give mean and standard error; None with too few readings.

        s / sqrt(n), made larger by sqrt((n - 1) / (n - 3)) because s itself comes from few readings (JCGM
        101:2008, 6.4.9), and the error of a step that is evenly likely to be rounded anywhere (JCGM 100:2008,
        4.3.7). Readings are taken as independent of each other.
        """
        count = len(self._seen_l)
        if count < LEAST_LOOKS:
            return None
        mean_l = math.fsum(self._seen_l) / count
        scatter = math.fsum((level_l - mean_l) ** 2 for level_l in self._seen_l) / (count - 1)
        error_l = math.sqrt(scatter / count * (count - 1) / (count - 3))
        return StillLevel(mean_l, math.hypot(error_l, self._step_l / math.sqrt(12.0)))


def judge(before: StillLevel, after: StillLevel, moved: Iterable[Moved], *, foams: bool = False) -> Arrival:
    """Hold the rise from `before` to `after` against what was moved between.

    What one pump moved is wrong in the same sense each time, what several did is not (JCGM 100:2008, 5.1.2
    and 5.2.2, note 1). `foams`: something in the tank does, so that a rise may be
    foam: it can still be too small, but never proves anything. What may be left of foam at either moment is
    at most how far it sank in the time before, if it halves at least once in that time.
    """
    wanted_l, counts_l = _moved_l(moved)
    doubt_l = math.hypot(before.doubt_l, after.doubt_l, counts_l, LEVEL_SHARE * wanted_l)
    doubt_l = math.hypot(doubt_l, before.sinking_l, after.sinking_l)
    seen_l = after.mean_l - before.mean_l
    return Arrival(_verdict(wanted_l, wanted_l - seen_l, doubt_l, foams), wanted_l, seen_l, doubt_l)


def smallest_told_l(doubt_l: float) -> float:
    """Give the smallest volume of which a total loss is told nearly always, L."""
    return (DECIDE + SURE) * doubt_l


def _verdict(wanted_l: float, missing_l: float, doubt_l: float, foams: bool) -> Verdict:
    if missing_l > DECIDE * doubt_l:
        return Verdict.MISSING
    if foams:
        return Verdict.CANNOT_TELL
    if missing_l < -DECIDE * doubt_l:
        return Verdict.MORE
    return Verdict.ARRIVED if wanted_l >= smallest_told_l(doubt_l) else Verdict.CANNOT_TELL


def _moved_l(moved: Iterable[Moved]) -> tuple[float, float]:
    """Give what was moved, and its standard doubt, L."""
    wanted_ml = 0.0
    expanded_ml: dict[str, float] = {}
    for motion in moved:
        wanted_ml += motion.ml
        expanded_ml[motion.pump] = expanded_ml.get(motion.pump, 0.0) + motion.expanded_ml
    return wanted_ml / 1000.0, math.hypot(*expanded_ml.values()) / COVERAGE_FACTOR / 1000.0
