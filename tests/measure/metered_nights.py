"""Many doses of the pumps on the bench, night after night, and how far they are off and scatter.

The pumps themselves are `metered_pumps.py`; what must be held is in the test of metering accuracy.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from random import Random

from metered_pumps import TUBES, Kind, PumpOnBench

from controller.measure.metering import DoseBelowFloor
from controller.settings.values import Site
from sim.world import World

NIGHTS = 7
"""A pump gives each volume once a night, in any order, and is weighed in anew after so many nights (a pump
maker's note asks for it every three to seven days)."""
STRETCH_ML = 10.0
STRETCH = (0.006, 0.002)
"""What ten millilitres on a scale should be off and scatter by at the best; no table is judged by it."""


def bars(ml: float) -> tuple[float, float]:
    """Give the most that a volume may be off on the mean, and may scatter by, as shares."""
    return (0.02, 0.01) if ml < 5.0 else (0.01, 0.005)


@dataclass(frozen=True, slots=True)
class Accuracy:
    """What came of many doses of one volume: off on the mean, and scatter, both as shares.

    Each with its standard error. Doses of one pump are not independent of each other: of the bias it is the
    standard deviation of the pumps' own means over the root of their number; a standard deviation of n
    values has a relative one of 1 / sqrt(2 (n - 1)) (JCGM 100:2008, E.4.3).
    """

    doses: int
    bias_share: float
    scatter_share: float
    bias_error: float
    scatter_error: float

    def within(self, most: tuple[float, float]) -> bool:
        """Tell whether neither is above its bar."""
        return abs(self.bias_share) <= most[0] and self.scatter_share <= most[1]

    def above(self, most: tuple[float, float]) -> bool:
        """Tell whether either is above its bar by more than two standard errors: no chance of a sample."""
        return (
            abs(self.bias_share) - 2.0 * self.bias_error > most[0]
            or self.scatter_share - 2.0 * self.scatter_error > most[1]
        )


Way = Callable[[PumpOnBench, float], float]


def after_many_nights(site: Site, world: World, kind: Kind, way: Way, pumps: int, nights: int) -> Accuracy:
    """Let run-in pumps give 500 mL every night without a new calibration; judge their last ten nights."""
    came = []
    for seed in range(pumps):
        pump = PumpOnBench(site, world, kind, TUBES["run in"], seed)
        came.append([way(pump, 500.0) for _ in range(nights)][-10:])
    return _accuracy(500.0, came)


def measure(
    site: Site,
    world: World,
    kind: Kind,
    tube: str,
    way: Way,
    pumps: int,
    volumes_ml: Sequence[float] = (),
) -> dict[float, Accuracy | None]:
    """Let so many pumps of a kind give their volumes for NIGHTS nights each; None for a volume refused.

    Bias and coefficient of variation are over all doses of a volume: what pumps differ by is in it.
    """
    asked = list(volumes_ml) or kind.volumes_ml(site)
    came: dict[float, list[list[float]]] = {ml: [] for ml in asked}
    for seed in range(pumps):
        pump = PumpOnBench(site, world, kind, TUBES[tube], seed)
        rng = Random(f"nights {seed}")
        nights = [(ml, _asked(pump, way, ml)) for _ in range(NIGHTS) for ml in rng.sample(asked, len(asked))]
        for ml in asked:
            came[ml].append([given for of_ml, given in nights if of_ml == ml and given is not None])
    return {ml: _accuracy(ml, doses) if all(doses) else None for ml, doses in came.items()}


def _asked(pump: PumpOnBench, way: Way, ml: float) -> float | None:
    """Give what came, mL, or None when the pump must not be asked for so little."""
    try:
        return way(pump, ml)
    except DoseBelowFloor:
        return None


def _accuracy(ml: float, by_pump: Sequence[Sequence[float]]) -> Accuracy:
    doses = [dose for of_pump in by_pump for dose in of_pump]
    mean_ml, scatter = statistics.fmean(doses), statistics.stdev(doses) / statistics.fmean(doses)
    means = [statistics.fmean(of_pump) for of_pump in by_pump]
    apart_ml = statistics.stdev(means) if len(means) > 1 else statistics.stdev(doses)
    return Accuracy(
        doses=len(doses),
        bias_share=mean_ml / ml - 1.0,
        scatter_share=scatter,
        bias_error=apart_ml / math.sqrt(len(means)) / ml,
        scatter_error=scatter / math.sqrt(2.0 * (len(doses) - 1)),
    )
