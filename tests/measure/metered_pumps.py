"""Pumps of the simulated rig, weighed in and then asked for doses: what was asked against what truly came.

For the test of metering accuracy and its bench. The truth is the simulator's dosing: worn tubes that wear on,
start angles that nobody knows, a random error of each dose, a falling level. Counts come from the controller.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from random import Random

from controller.measure.calibration_budget import Weighed
from controller.measure.metering import (
    counts_for,
    dose_uncertainty_ml,
    ml_for,
    pace_counts_per_s,
    whole_roller_counts,
)
from controller.measure.pump_calibration import calibrate
from controller.measure.tube import TubeDose, TubeEstimate, with_dose
from controller.measure.weighed_delivery import WeighedDelivery
from controller.measure.weighing import (
    SAMPLE_S,
    SAMPLES,
    StillWeight,
    WeighedAmount,
    still_weight,
    weighed_amount,
)
from controller.plan.dose_floor import dose_floor_ml
from controller.plan.steps import Purpose
from controller.plan.times import dose_rate_ml_min
from controller.run.dose_amount import DoseAmount, believed
from controller.run.dose_verdict import Next, judge
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
DELIVERIES = 10
BALANCE_G = 0.01
"""Standard deviation of one weighing at the calibration, on a small balance (assumed)."""
COMMON_SHARE = 0.001
"""What all weighings of one calibration are off together: density, evaporation, balance (sd, assumed)."""
COUNTS_PER_ROLLER = 8


@dataclass(frozen=True, slots=True)
class Kind:
    """A pump of the bench: mL per count, bottle, the most it is asked for, its volumes of calibration."""

    name: str
    input: str
    ml_per_count: float
    most_ml: float
    weighed_ml: tuple[float, float, float]

    def nominal(self, pump: Pump) -> Pump:
        """Give the site's pump with a tube of this kind; its `min_dose` is that of top-ups."""
        return replace(pump, ml_per_count=self.ml_per_count)

    def floor_ml(self, site: Site) -> float:
        """Give the smallest addition that the plan asks of it, rounded up."""
        pump = self.nominal(site.rig.pumps[site.inputs[self.input].pump])
        return math.ceil(dose_floor_ml(pump) * 10.0) / 10.0

    def volumes_ml(self, site: Site) -> list[float]:
        """Give what it is asked for: its own floor, and every volume that it may give at once."""
        return sorted({self.floor_ml(site), *(ml for ml in VOLUMES_ML if ml <= self.most_ml)})


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
        nominal = kind.nominal(site.rig.pumps[self.liquid.pump])
        changed = replace(site, rig=replace(site.rig, pumps={**site.rig.pumps, nominal.name: nominal}))
        self._dosing = Dosing(changed, world, seed)
        self._dosing.pumps[nominal.channel].counts = float(counts_before)
        self._pace = pace_counts_per_s(nominal, dose_rate_ml_min(changed, self.liquid, nominal))
        self._channel, self._dose_id, self._given_ml = nominal.channel, 0, 0.0
        weighed_in = self._weighed_in(nominal, kind.weighed_ml, Random(f"weighings {seed}"))
        self.known = replace(weighed_in, min_dose_ml=dose_floor_ml(nominal))
        self._least_ml, self._rule = nominal.min_dose_ml, site.policy.stock
        self.tube = TubeEstimate(self.known.ml_per_count)
        self._platform = _Weigher(world.scales, self.liquid.density_kg_l, seed)

    def counted(self, ml: float) -> float:
        """Meter one dose by counts alone; return what truly came, mL. Raises DoseBelowFloor."""
        return self._give(counts_for(self.known, ml))

    def weighed(self, ml: float) -> float:
        """Meter one dose as the controller does where a platform scale stands; return what truly came, mL.

        By the tube's running estimate, weighed and learnt from, and topped up once where the verdict on its
        weight asks for it. Raises DoseBelowFloor.
        """
        by = replace(self.known, ml_per_count=self.tube.ml_per_count)
        counts = counts_for(by, ml)
        doubt_share = self.tube.standard_share if self.tube.doses else None
        true_ml, seen = self._on_the_platform(by, counts)
        counted = DoseAmount(ml_for(by, counts), dose_uncertainty_ml(by, ml, doubt_share))
        seen_ml = believed(counted, seen).ml
        verdict = judge(self._rule, Purpose.ADDITION, ml, seen_ml, seen.uncertainty_ml, topped_up=False)
        if verdict is Next.TOP_UP and ml - seen_ml >= self._least_ml:
            rest = replace(by, min_dose_ml=self._least_ml)
            true_ml += self._on_the_platform(rest, counts_for(rest, ml - seen_ml))[0]
        return true_ml

    def _on_the_platform(self, by: Pump, counts: int) -> tuple[float, WeighedAmount]:
        before = self._platform.still()
        true_ml = self._give(counts)
        self._platform.take(true_ml)
        seen = weighed_amount(before, self._platform.still(), self.liquid.density_kg_l)
        self.tube = with_dose(self.tube, TubeDose(counts, seen.ml - by.start_ml, seen.uncertainty_ml))
        return true_ml, seen

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

    def _samples(self) -> list[tuple[float, float]]:
        samples = []
        for _ in range(SAMPLES):
            self._now_s += SAMPLE_S
            self._scale.advance(SAMPLE_S, self._stands_g, 20.0)
            read_g = self._scale.read_g(self._now_s)
            assert read_g is not None
            samples.append((self._now_s, read_g))
        return samples
