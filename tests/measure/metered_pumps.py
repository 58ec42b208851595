"""Pumps of the simulated rig, weighed in and then asked for doses: what was asked against what truly came.

For the test of metering accuracy and its bench. The truth is the simulator's dosing: worn tubes that wear on,
start angles that nobody knows, a random error of each dose, a falling level. Counts come from the controller.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from random import Random

from controller.measure.calibration_budget import Weighed
from controller.measure.metering import DoseBelowFloor, counts_for, pace_counts_per_s, whole_roller_counts
from controller.measure.pump_calibration import calibrate
from controller.measure.tube import TubeDose, TubeEstimate, with_dose
from controller.measure.weighed_delivery import WeighedDelivery
from controller.measure.weighing import SAMPLE_S, SAMPLES, StillWeight, still_weight, weighed_amount
from controller.plan.dose_floor import dose_floor_ml
from controller.plan.times import dose_rate_ml_min
from controller.settings.values import Pump, Site
from sim.pumping.dosing import Dosing
from sim.pumping.stock import Drawn
from sim.sensing.scale import Scale
from sim.true_instruments import TrueScales
from sim.world import World

TUBES = {"not run in": 0, "run in": 150_000, "half life": 5_000_000, "near its end": 10_000_000}
"""Counts behind a tube as it is weighed in; it loses up to a fifth, most of that within ten million counts.
One that is not run in loses more than a percent in its next nights, of which a calibration knows nothing."""
VOLUMES_ML = (1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 500.0)
NIGHTS = 7
"""A pump gives each volume once a night, in any order, and is weighed in anew after so many nights (a pump
maker's note asks for it every three to seven days)."""
DELIVERIES = 10
BALANCE_G = 0.01
"""Standard deviation of one weighing at the calibration, on a small balance (assumed)."""
COMMON_SHARE = 0.001
"""What all weighings of one calibration are off together: density, evaporation, balance (sd, assumed)."""
FIRST_PERCENT = 95
"""So much of a dose is given before it is weighed and topped up."""
COUNTS_PER_ROLLER = 8
FINE_ROLLERS = 30
"""From so many rollers on a volume is held to the bars for its size; below, to those for 1 to 5 mL."""
FINE_BALANCE = TrueScales(scale_noise_g=0.02, span_error=0.0005, drift_g_k=0.0, creep_share=0.0)
"""A balance under one small bottle, as nobody fits yet (assumed)."""


@dataclass(frozen=True, slots=True)
class Kind:
    """A pump of the bench: mL per count, bottle, the most it is asked for, its volumes of calibration."""

    name: str
    input: str
    ml_per_count: float
    most_ml: float
    weighed_ml: tuple[float, float, float]

    def bars(self, ml: float) -> tuple[float, float]:
        """Give the most that a volume may be off on the mean, and may scatter by, as shares."""
        coarse = ml < FINE_ROLLERS * COUNTS_PER_ROLLER * self.ml_per_count
        return (0.02, 0.01) if ml < 5.0 or coarse else (0.01, 0.005)


KINDS = (
    Kind("fine", "citric_acid", 0.005, 20.0, (2.0, 5.0, 20.0)),
    Kind("small", "citric_acid", 0.02, 100.0, (5.0, 20.0, 50.0)),
    Kind("middle", "kelp_extract", 0.05, 500.0, (10.0, 50.0, 100.0)),
    Kind("thick", "molasses", 0.06, 500.0, (10.0, 50.0, 100.0)),
)


class PumpOnBench:
    """One simulated pump with its bottle, and what the controller knows of it since it was weighed in."""

    def __init__(self, site: Site, world: World, kind: Kind, counts_before: int, seed: int) -> None:
        self.liquid = site.inputs[kind.input]
        nominal = replace(site.rig.pumps[self.liquid.pump], ml_per_count=kind.ml_per_count)
        nominal = replace(nominal, min_dose_ml=dose_floor_ml(nominal))
        changed = replace(site, rig=replace(site.rig, pumps={**site.rig.pumps, nominal.name: nominal}))
        self._dosing = Dosing(changed, world, seed)
        self._dosing.pumps[nominal.channel].counts = float(counts_before)
        self._pace = pace_counts_per_s(nominal, dose_rate_ml_min(changed, self.liquid, nominal))
        self._channel, self._dose_id, self._given_ml = nominal.channel, 0, 0.0
        self.known = self._weighed_in(nominal, kind.weighed_ml, Random(f"weighings {seed}"))
        self.tube = TubeEstimate(self.known.ml_per_count)
        self._platform = _Weigher(world.scales, self.liquid.density_kg_l, seed)
        self._balance = _Weigher(FINE_BALANCE, self.liquid.density_kg_l, seed)

    def counted(self, ml: float) -> float:
        """Meter one dose by counts alone; return what truly came, mL. Raises DoseBelowFloor."""
        return self._give(counts_for(self.known, ml))

    def estimated(self, ml: float) -> float:
        """Meter one dose by the tube's running estimate, and learn from its weight on a platform scale."""
        by = replace(self.known, ml_per_count=self.tube.ml_per_count)
        counts = counts_for(by, ml)
        before = self._platform.still()
        true_ml = self._give(counts)
        self._platform.take(true_ml)
        weighed = weighed_amount(before, self._platform.still(), self.liquid.density_kg_l)
        told = TubeDose(counts, weighed.ml - by.start_ml, weighed.uncertainty_ml)
        self.tube = with_dose(self.tube, told)
        return true_ml

    def topped_up(self, ml: float) -> float:
        """Give most of a dose, weigh it on a fine balance, and give what is missing by counts."""
        first_ml = self._give(counts_for(self.known, ml) * FIRST_PERCENT // 100)
        missing_ml = ml - self._balance.seen_ml(first_ml)
        rest = replace(self.known, min_dose_ml=0.0, start_ml=0.0)
        return first_ml + self._give(counts_for(rest, max(missing_ml, 0.0)))

    def _give(self, counts: int) -> float:
        self._dose_id += 1
        bottle = self._dosing.bottles[self._channel]
        if self._given_ml > self.liquid.stock_ml / 2.0:
            bottle.stock.take_back(Drawn(self._given_ml, 1.0))
            self._given_ml = 0.0
        true_ml = self._dosing.turn(self._channel, counts, self._pace, self._dose_id).ml
        self._given_ml += true_ml
        return true_ml

    def _weighed_in(self, pump: Pump, volumes_ml: Sequence[float], rng: Random) -> Pump:
        """Weigh three volumes of whole rollers ten times, and take the pump as its calibration finds it."""
        weighed = Weighed(density_kg_l=self.liquid.density_kg_l)
        common = rng.gauss(1.0, COMMON_SHARE)
        deliveries = []
        for ml in [ml for _ in range(DELIVERIES) for ml in volumes_ml]:
            counts = whole_roller_counts(pump, ml)
            true_g = self._give(counts) * common / weighed.z_ml_g()
            grams = round(true_g + rng.gauss(0.0, BALANCE_G), 2)
            deliveries.append(WeighedDelivery(len(deliveries) + 1, counts, grams))
        found = calibrate(pump, deliveries, weighed)
        return replace(pump, ml_per_count=found.ml_per_count, start_ml=found.start_ml)


class _Weigher:
    """A bottle on a scale of the simulator, read as the controller reads it while all is quiet."""

    def __init__(self, true: TrueScales, density_kg_l: float, seed: int) -> None:
        span = Random(f"span {seed}").choice((-1.0, 1.0)) * true.span_error
        self._density_kg_l = density_kg_l
        self._stands_g, self._now_s = 15_000.0, 0.0
        self._scale = Scale("bench", replace(true, span_error=span), self._stands_g, seed)

    def take(self, ml: float) -> None:
        """Let so much leave the bottle within a minute."""
        self._now_s += 60.0
        self._stands_g -= ml * self._density_kg_l
        self._scale.advance(60.0, self._stands_g, 20.0)

    def still(self) -> StillWeight:
        """Give a still weight."""
        weight = None
        while weight is None:
            weight = still_weight(self._samples())
        return weight

    def seen_ml(self, ml: float) -> float:
        """Let so much leave, and give what the means of the readings say of it."""
        before_g = statistics.fmean(g for _, g in self._samples())
        self.take(ml)
        return (before_g - statistics.fmean(g for _, g in self._samples())) / self._density_kg_l

    def _samples(self) -> list[tuple[float, float]]:
        samples = []
        for _ in range(SAMPLES):
            self._now_s += SAMPLE_S
            self._scale.advance(SAMPLE_S, self._stands_g, 20.0)
            read_g = self._scale.read_g(self._now_s)
            assert read_g is not None
            samples.append((self._now_s, read_g))
        return samples


@dataclass(frozen=True, slots=True)
class Accuracy:
    """What came of many doses of one volume: off on the mean, and scatter, both as shares."""

    doses: int
    bias_share: float
    scatter_share: float

    def within(self, bars: tuple[float, float], sample: bool = False) -> bool:
        """Tell whether neither is above its bar; of a `sample`, by more than so few doses can tell (2 sigma).

        A standard deviation of n values has a relative one of 1 / sqrt(2 (n - 1)) (JCGM 100:2008, E.4.3).
        """
        room = 1.0 + 2.0 / math.sqrt(2.0 * (self.doses - 1)) if sample else 1.0
        return abs(self.bias_share) <= bars[0] and self.scatter_share <= bars[1] * room


Way = Callable[[PumpOnBench, float], float]


def after_many_nights(site: Site, world: World, kind: Kind, way: Way, pumps: int, nights: int) -> Accuracy:
    """Let run-in pumps give 500 mL every night without a new calibration; judge their last ten nights."""
    came = []
    for seed in range(pumps):
        pump = PumpOnBench(site, world, kind, TUBES["run in"], seed)
        came += [way(pump, 500.0) for _ in range(nights)][-10:]
    return _accuracy(500.0, came)


def measure(
    site: Site,
    world: World,
    kind: Kind,
    tube: str,
    way: Way,
    pumps: int,
    volumes_ml: Sequence[float] = VOLUMES_ML,
) -> dict[float, Accuracy | None]:
    """Let so many pumps of a kind give their volumes for NIGHTS nights each; None for a volume refused.

    Bias and coefficient of variation are over all doses of a volume: what pumps differ by is in it.
    """
    asked = [ml for ml in volumes_ml if ml <= kind.most_ml]
    came: dict[float, list[float]] = {ml: [] for ml in asked}
    for seed in range(pumps):
        pump = PumpOnBench(site, world, kind, TUBES[tube], seed)
        rng = Random(f"nights {seed}")
        for _ in range(NIGHTS):
            for ml in rng.sample(asked, len(asked)):
                try:
                    came[ml].append(way(pump, ml))
                except DoseBelowFloor:
                    continue
    return {ml: _accuracy(ml, doses) if doses else None for ml, doses in came.items()}


def _accuracy(ml: float, doses: Sequence[float]) -> Accuracy:
    mean_ml = statistics.fmean(doses)
    return Accuracy(len(doses), mean_ml / ml - 1.0, statistics.pstdev(doses) / mean_ml)
