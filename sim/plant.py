"""The plant: tank, supply, dosing side and instruments of one site, joined as on the real rig.

Driven by plain switches, advanced in seconds; it knows no firmware, no controller and no laws.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace

from controller.settings.values import Site
from sim.matter.grains import STAND_INS, Grain
from sim.matter.ions import GYPSUM, SOLIDS
from sim.pumping.dosing import PUDDLE_ML, Dosing
from sim.sensing.disturbance import Disturbance
from sim.sensing.instruments import Instruments
from sim.true_input import TrueInput
from sim.vessel.supply import Supply
from sim.vessel.tank import Tank
from sim.world import World

DRAIN_L_MIN = 30.0
PIPE_EMPTY_ML = 1.0


class Plant:
    """Everything wet.

    Switches: valve, stir, air, drain, agitators, motor. What may be broken: supply_open, valve_stuck_open,
    valve_stuck_shut.
    """

    def __init__(self, site: Site, world: World, seed: int) -> None:
        rig, room = site.rig, world.room
        self._supply_water = world.supply
        self._stir_l_min = rig.stir.flow_l_min
        area_m2 = math.pi / 4 * rig.tank.diameter_m**2
        self.tank = Tank(
            area_m2,
            rig.stir.nozzle_mm,
            room.temperature_c,
            room.cooling_hours,
            room.co2_ppm,
            room.swing_k,
            room.stir_heat_w,
            rig.tank.brim_l,
            grains_of(world.inputs.values()),
        )
        self.supply = Supply(rig.fill.rated_l_min * world.supply.flow_share, rig.fill.pipe_ml, seed)
        self.dosing = Dosing(site, world, seed)
        self.dosing.rinse_water = self._supply_content
        self.instruments = Instruments(site, world, seed, self.tank, self.dosing)
        self._run_out_ml = 0.0
        self.valve = self.stir = self.air = self.drain = self.motor = False
        self.valve_stuck_open = self.valve_stuck_shut = False
        self.supply_open = True
        self.agitators: frozenset[str] = frozenset()

    @property
    def volume_l(self) -> float:
        """Give the tank's contents, with the liquid in its foam."""
        return self.tank.volume_l

    @property
    def water_l(self) -> float:
        """Give what stands in the tank as water: what lifts its floats."""
        return self.tank.water.volume_l

    @property
    def floor_wet(self) -> bool:
        """Tell whether enough was spilled, or ran over the tank's brim, to wet the leak contact."""
        return self.dosing.floor_wet or self.tank.overflow_l * 1e3 >= PUDDLE_ML

    @property
    def filling(self) -> bool:
        """Tell whether water runs in, or the pipe still runs out."""
        return self.valve or self.valve_stuck_open or self._run_out_ml > PIPE_EMPTY_ML

    def pump(self, channel: int, counts: int, counts_per_s: int, dose_id: int) -> float:
        """Turn one pump; give the mL of liquid that it moved."""
        delivered = self.dosing.turn(channel, counts, counts_per_s, dose_id)
        if delivered.fallen_ml > 0:
            self.tank.add(delivered.fallen_ml, delivered.content)
        return delivered.ml

    def draw_back(self, channel: int, counts: int, counts_per_s: int, dose_id: int) -> float:
        """Turn one pump backwards; give the mL of liquid that came back, less than 0."""
        return -self.dosing.draw_back(channel, counts, counts_per_s, dose_id)

    def advance(self, dt_s: float) -> None:
        """Let time pass with the switches as they are."""
        self.instruments.near = Disturbance(self.stir, self.air, self.motor, self.filling, self.agitators)
        if self.filling or self.valve:
            self._fill(dt_s)
        if self.drain:
            self.tank.remove(min(DRAIN_L_MIN * dt_s / 60, self.tank.volume_l))
        self.tank.advance(dt_s, self._stir_l_min if self.stir else 0.0, self.air)
        for fallen in self.dosing.advance(dt_s, self.agitators):
            self.tank.add(fallen.ml, fallen.content)
        self.instruments.advance(dt_s)

    def change_supply(self, temperature_c: float) -> None:
        """Let the supply bring water of another temperature from now on."""
        self._supply_water = replace(self._supply_water, temperature_c=temperature_c)
        self.instruments.supply = self._supply_water

    def ph_true(self) -> float:
        """Give the pH of the whole tank, well mixed."""
        return self.tank.ph_true()

    def _fill(self, dt_s: float) -> None:
        self.supply.pressure = 1.0 if self.supply_open else 0.0
        before_ml = self.supply.delivered_ml
        opened = (self.valve or self.valve_stuck_open) and not self.valve_stuck_shut
        fell_ml = self.supply.advance(dt_s, opened)
        through_ml = self.supply.delivered_ml - before_ml
        self.instruments.flow_meter.passed(through_ml, dt_s)
        self._run_out_ml += through_ml - fell_ml
        if fell_ml > 0:
            self.tank.add(fell_ml, self._supply_content(fell_ml), plunging=True)

    def _supply_content(self, ml: float) -> list[float]:
        """Give the parcel of so much of the water that the supply brings now."""
        return self._supply_water.content(ml, self.tank.age_s)


def grains_of(inputs: Iterable[TrueInput]) -> dict[int, Grain]:
    """Return the grain of every kind of solid: that of its input, of several the largest."""
    found = dict(STAND_INS)
    for true in sorted((true for true in inputs if true.suspended), key=_grain_um):
        for kind in range(GYPSUM, GYPSUM + len(SOLIDS)):
            if true.grains_ml[kind] > 0.0 and true.suspended is not None:
                found[kind] = Grain(true.suspended.grain_um, true.suspended.grain_kg_l)
    return found


def _grain_um(true: TrueInput) -> float:
    return true.suspended.grain_um if true.suspended is not None else 0.0
