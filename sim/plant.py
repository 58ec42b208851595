"""The plant: tank, supply, bottles, pumps, lines and sensors of one site, joined as on the real rig.

Driven by plain switches, advanced in seconds; it knows no firmware, no controller and no laws.
"""

from __future__ import annotations

import math
from random import Random

from controller.settings.values import Pump, Site
from sim.line import Manifold, SupplyLine
from sim.probe import PhProbe
from sim.pump import RUN_IN_COUNTS, PeristalticPump
from sim.sensors import ConductivityProbe, LevelSensor, Thermometer
from sim.stock import Stock
from sim.supply import FlowMeter, Supply
from sim.tank import Tank
from sim.true_input import TrueInput
from sim.world import World

COUNTS_BEFORE = 4 * RUN_IN_COUNTS
PROBE_STEP_S = 2.0
DRAIN_L_MIN = 30.0
PIPE_EMPTY_ML = 1.0


class Bottle:
    """One input's bottle with its tube, its agitator's name and what is truly in it."""

    __slots__ = ("agitator", "line", "name", "stock", "true")

    def __init__(
        self, name: str, agitator: str | None, stock: Stock, line: SupplyLine, true: TrueInput
    ) -> None:
        self.name = name
        self.agitator = agitator
        self.stock = stock
        self.line = line
        self.true = true


class Plant:
    """Everything wet.

    Switches: valve, stir, air, drain, agitators, motor. What may be broken: supply_open, valve_stuck_open.
    """

    def __init__(self, site: Site, world: World, seed: int) -> None:
        rig, room = site.rig, world.room
        self._world = world
        self._stir_l_min = rig.stir.flow_l_min
        area_m2 = math.pi / 4 * rig.tank.diameter_m**2
        self.tank = Tank(area_m2, rig.stir.nozzle_mm, room.temperature_c, room.cooling_hours, room.co2_ppm)
        self.supply = Supply(rig.fill.rated_l_min * world.supply.flow_share, rig.fill.pipe_ml, seed)
        self._meter = FlowMeter(rig.fill.pulses_per_l, world.supply.meter_error)
        self._manifold = Manifold(rig.manifold.holdup_ml, room.temperature_c)
        self._pumps = {pump.channel: _true_pump(pump, world, seed) for pump in rig.pumps.values()}
        self.bottles = _bottles(site, world)
        self._probe = _true_probe(site, world, seed)
        self._level = LevelSensor(seed=seed)
        self._cell = ConductivityProbe(seed=seed)
        self._tank_thermometer = Thermometer("tank", room.temperature_c, seed=seed)
        self._supply_thermometer = Thermometer("supply", world.supply.temperature_c, seed=seed)
        self._unseen_s = 0.0
        self._run_out_ml = 0.0
        self.valve = self.stir = self.air = self.drain = self.motor = False
        self.valve_stuck_open = False
        self.supply_open = True
        self.agitators: frozenset[str] = frozenset()

    @property
    def volume_l(self) -> float:
        """Give the tank's contents."""
        return self.tank.volume_l

    @property
    def filling(self) -> bool:
        """Tell whether water runs in, or the pipe still runs out."""
        return self.valve or self.valve_stuck_open or self._run_out_ml > PIPE_EMPTY_ML

    def pump(self, channel: int, counts: int, dose_id: int) -> float:
        """Turn one pump; give the mL of liquid that it moved."""
        pump = self._pumps[channel]
        pump.begin_dose(dose_id)
        swept_ml = pump.turn(counts)
        bottle = self.bottles.get(channel)
        if bottle is None:
            self._inject(swept_ml, self._world.supply.content(swept_ml), None)
            return swept_ml
        out = bottle.line.push(swept_ml, bottle.stock.draw(swept_ml))
        content = bottle.true.content(out.ml, out.solids_share, self._world.room.temperature_c)
        self._inject(out.ml, content, bottle.name)
        return out.ml

    def advance(self, dt_s: float) -> None:
        """Let time pass with the switches as they are."""
        if self.filling or self.valve:
            self._fill(dt_s)
        if self.drain:
            self.tank.remove(min(DRAIN_L_MIN * dt_s / 60, self.tank.volume_l))
        self.tank.advance(dt_s, self._stir_l_min if self.stir else 0.0, self.air)
        for bottle in self.bottles.values():
            bottle.stock.advance(dt_s, bottle.agitator is not None and bottle.agitator in self.agitators)
        self._unseen_s += dt_s
        if self._unseen_s >= PROBE_STEP_S and (self.stir or self.motor):
            self._look()

    def ph_mv(self, now_s: float) -> float:
        """Read the electrode, mV."""
        self._look()
        return self._probe.mv(now_s)

    def ec_us_cm(self, now_s: float) -> float:
        """Read conductivity at 25 °C, µS/cm."""
        return self._cell.read_us_cm(now_s, self.tank.ec_at_probe(), self.tank.temperature_c)

    def tank_c(self, now_s: float) -> float:
        """Read the tank thermometer."""
        self._look()
        return self._tank_thermometer.read_c(now_s)

    def supply_c(self, now_s: float) -> float:
        """Read the supply thermometer."""
        return self._supply_thermometer.read_c(now_s)

    def level_mm(self, now_s: float) -> float:
        """Read the level sensor."""
        return self._level.read_mm(now_s, self.tank.level_mm, self.stir or self.air or self.filling)

    def flow_pulses(self) -> int:
        """Read the flow meter."""
        return self._meter.pulses

    def ph_true(self) -> float:
        """Give the pH of the whole tank, well mixed."""
        return self.tank.ph_true()

    def _fill(self, dt_s: float) -> None:
        self.supply.pressure = 1.0 if self.supply_open else 0.0
        before_ml = self.supply.delivered_ml
        fell_ml = self.supply.advance(dt_s, self.valve or self.valve_stuck_open)
        through_ml = self.supply.delivered_ml - before_ml
        self._meter.passed(through_ml)
        self._run_out_ml += through_ml - fell_ml
        if fell_ml > 0:
            self.tank.add(fell_ml, self._world.supply.content(fell_ml), plunging=True)

    def _inject(self, ml: float, content: list[float], name: str | None) -> None:
        if ml > 0:
            self.tank.add(ml, self._manifold.push(ml, content, name))

    def _look(self) -> None:
        """Let probe and thermometer follow for the time since they were last looked at."""
        dt_s, self._unseen_s = self._unseen_s, 0.0
        if dt_s > 0:
            temperature_c = self.tank.temperature_c
            self._probe.advance(dt_s, self.tank.ph_at_probe(), temperature_c, self.stir or self.motor)
            self._tank_thermometer.advance(dt_s, temperature_c)


def _true_pump(pump: Pump, world: World, seed: int) -> PeristalticPump:
    """Make a pump that is off its calibration by a seeded error, at its wear of that day."""
    drawn = Random(f"{seed} calibration of {pump.name}")
    error = 1 + world.pumps.calibration_error * drawn.uniform(-1, 1)
    new_ml = pump.ml_per_count * error / PeristalticPump.wear_factor(COUNTS_BEFORE)
    start = drawn.uniform(0, pump.counts_per_roller)
    return PeristalticPump(new_ml, pump.counts_per_roller, seed, pump.name, COUNTS_BEFORE, start)


def _bottles(site: Site, world: World) -> dict[int, Bottle]:
    """Set the bottles by the channel of their pump, having stood since they were last stirred."""
    kept = world.bottles
    found = {}
    for of in site.inputs.values():
        true = world.inputs[of.name]
        stock = Stock(of.stock_ml, true.suspended, kept.area_cm2, of.unreachable_ml)
        stock.advance(kept.stood_hours * 3600, agitated=False)
        channel = site.rig.pumps[of.pump].channel
        found[channel] = Bottle(of.name, of.agitator, stock, SupplyLine(kept.line_ml), true)
    return found


def _true_probe(site: Site, world: World, seed: int) -> PhProbe:
    probe = world.probe
    return PhProbe(
        probe.offset_mv,
        probe.slope_share,
        site.rig.probe.isopotential_ph,
        probe.lag_s,
        probe.noise_mv,
        probe.stray_mv,
        seed,
    )
