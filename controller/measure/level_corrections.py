"""What a level leaves of the amounts that it has disproved: mL and doubt of each motion. Arithmetic only."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from controller.measure.arrived import Arrival, Moved, Verdict
from controller.measure.metering import COVERAGE_FACTOR


@dataclass(frozen=True, slots=True)
class Corrected:
    """What is believed of one motion now, mL, with its expanded uncertainty (k = 2).

    `alone`: nothing else that was moved could have lost so much: the loss is its own.
    """

    dose_id: int
    name: str
    ml: float
    expanded_ml: float
    alone: bool


def corrected(arrival: Arrival, moved: Iterable[Moved]) -> tuple[Corrected, ...]:
    """Give what is left of what only counts prove; empty for a level that disproves nothing.

    One fault at a time (assumed): where a single pump moved enough to have lost all that is missing, it lost
    it, and the doubt is that of the level. Else nobody knows whose the loss is: each amount is the middle of
    what it may be, from all of the loss to the least that the others leave to it, and its doubt reaches both
    ends. Of an excess each may have all of it. What was weighed left its bottle and is not touched.
    """
    pumps: dict[str, list[Moved]] = {}
    for motion in moved:
        if not motion.weighed and motion.ml > 0.0:
            pumps.setdefault(motion.pump, []).append(motion)
    missing_ml = arrival.missing_l * 1000.0
    wide_ml = COVERAGE_FACTOR * arrival.doubt_l * 1000.0
    claimed_ml = {pump: sum(motion.ml for motion in motions) for pump, motions in pumps.items()}
    if arrival.verdict is Verdict.MORE:
        ends = {pump: (ml, ml - missing_ml + wide_ml) for pump, ml in claimed_ml.items()}
        return tuple(_shared(pumps, ends))
    if arrival.verdict is not Verdict.MISSING:
        return ()
    able = [pump for pump, ml in claimed_ml.items() if ml + wide_ml >= missing_ml]
    if len(able) == 1:
        left_ml = max(claimed_ml[able[0]] - missing_ml, 0.0)
        return tuple(_parts(pumps[able[0]], left_ml, wide_ml, alone=True))
    return tuple(_shared(pumps, _ends_ml(claimed_ml, missing_ml, wide_ml)))


def _ends_ml(
    claimed_ml: Mapping[str, float], missing_ml: float, wide_ml: float
) -> dict[str, tuple[float, float]]:
    """Give the least and the most that may have come of each: one lost all of it, or the others did."""
    whole_ml = sum(claimed_ml.values())
    return {
        pump: (
            max(ml - missing_ml - wide_ml, 0.0),
            ml - min(max(missing_ml - wide_ml - (whole_ml - ml), 0.0), ml),
        )
        for pump, ml in claimed_ml.items()
    }


def _shared(
    pumps: Mapping[str, Sequence[Moved]], ends_ml: Mapping[str, tuple[float, float]]
) -> Iterable[Corrected]:
    for pump, motions in pumps.items():
        least_ml, most_ml = ends_ml[pump]
        metering_ml = sum(motion.expanded_ml for motion in motions)
        doubt_ml = (most_ml - least_ml) / 2.0 + metering_ml
        yield from _parts(motions, (least_ml + most_ml) / 2.0, doubt_ml, alone=False)


def _parts(motions: Sequence[Moved], ml: float, expanded_ml: float, *, alone: bool) -> Iterable[Corrected]:
    """Spread what one pump moved over its motions as they were counted; doubts of one pump add up in full."""
    claimed_ml = sum(motion.ml for motion in motions)
    for motion in motions:
        share = motion.ml / claimed_ml
        yield Corrected(motion.dose_id, motion.name, ml * share, expanded_ml * share, alone)
