"""The feed tank: three layers of water that exchange, take in, give out and age, foam on them, grains below.

Each layer holds a third of the volume and its own parcel (`matter/ions.py`). Doses and fill enter at the
top and sink or float by their weight; drain and feed leave from the bottom, where the probe hangs. What each
process does is told by its own file; here is when it happens. Not here: pumps, sensors, who decides.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from sim.matter.charge_balance import WaterSolver
from sim.matter.gas_exchange import co2_velocity_m_s
from sim.matter.grains import STAND_INS, Grain, rise_s
from sim.matter.ions import CARBONATE, HEAT, add_into
from sim.vessel.foam import Foam, rising_gas_l_s
from sim.vessel.heat import Surroundings
from sim.vessel.layers import ALL_IN, EMPTY_L, Layer, Layers
from sim.vessel.mixing import pumped_l_min
from sim.vessel.probe_water import ProbeWater
from sim.vessel.sediment import Sediment
from sim.vessel.stratification import Stratification, density_kg_m3

MOVING_STEP_S = 2.0
STILL_STEP_S = 20.0


class Tank:
    """An upright tank. Everything but plain exchange moves on a grid of 2 s (moving water) or 20 s (still),
    whatever `advance` is given.

    `nozzle_mm` is the bore of the stir nozzle; above `brim_l` foam and water run over; for the room see
    `heat.py`; `grains` says what falls, by kind; `age_s` is the time that has passed.
    """

    __slots__ = (
        "_air_on",
        "_around_probe",
        "_asked_l_min",
        "_layering",
        "_layering_stale",
        "_sediment",
        "_since_s",
        "_stir_l_min",
        "_surroundings",
        "_top",
        "_whole",
        "age_s",
        "area_m2",
        "brim_l",
        "co2_atm",
        "foam",
        "nozzle_mm",
        "water",
    )

    def __init__(
        self,
        area_m2: float,
        nozzle_mm: float,
        room_c: float = 18.0,
        room_hours: float = 24.0,
        co2_ppm: float = 420.0,
        swing_k: float = 0.0,
        stir_heat_w: float = 0.0,
        brim_l: float = math.inf,
        grains: Mapping[int, Grain] = STAND_INS,
    ) -> None:
        self.area_m2 = area_m2
        self.nozzle_mm = nozzle_mm
        self.brim_l = brim_l
        self.co2_atm = co2_ppm * 1e-6
        self.water = Layers()
        self._surroundings = Surroundings(room_c, room_hours, swing_k, stir_heat_w)
        self._sediment = Sediment(grains)
        self.foam = Foam()
        self._layering = Stratification()
        self._layering_stale = True
        self._top, self._whole = WaterSolver(), WaterSolver()
        self._around_probe = ProbeWater()
        self.age_s = 0.0
        self._since_s = 0.0
        self._asked_l_min = self._stir_l_min = 0.0
        self._air_on = False

    @property
    def volume_l(self) -> float:
        """Contents, L, with the liquid that hangs in the foam."""
        return self.water.volume_l + self.foam.liquid_l

    @property
    def level_mm(self) -> float:
        """Height of the water under any foam, mm."""
        return self.water.volume_l / self.area_m2

    @property
    def foam_mm(self) -> float:
        """Height of the foam on the water, mm."""
        return self.foam.volume_l / self.area_m2

    @property
    def overflow_l(self) -> float:
        """Liquid that has gone over the brim, as water or in foam, L."""
        return self.foam.spilled_l

    @property
    def room_c(self) -> float:
        """Temperature of the room now, deg C."""
        return self._surroundings.room_at_c(self.age_s)

    @property
    def floor(self) -> Sequence[float]:
        """Grains that lie on the floor, mmol in the order of `sim.matter.ions.SOLIDS`."""
        return self._sediment.lying

    @property
    def temperature_c(self) -> float:
        """Temperature where the probe hangs, deg C; the room's when the tank is empty."""
        if self.water.volume_l < EMPTY_L:
            return self.room_c
        return self.water.parcels[2][HEAT] * 3.0 / self.water.volume_l

    def add(
        self, volume_ml: float, content: Sequence[float], at: Layer = Layer.TOP, plunging: bool = False
    ) -> None:
        """Take in liquid; `content` is its whole parcel. `plunging` water stirs what it falls into.

        Raises ValueError for a volume that is negative or no number.
        """
        volume_l, water = volume_ml * 1e-3, self.water
        first = water.volume_l < EMPTY_L
        shares = ALL_IN[at]
        if not first and volume_l > 0.0:
            if self._layering_stale:
                self._survey()
            shares = self._layering.resting_place(density_kg_m3(content, volume_l), at)
        water.add(volume_l, content, shares)
        share = volume_l / max(water.volume_l, EMPTY_L)
        if plunging and volume_l > 0.0:
            self.foam.splash(volume_l)
            if not first:
                self._layering.splash(water, share)
        self.foam.run_over(water, self.brim_l)
        if first or share > 0.005:
            self._layering_stale = True
            self._around_probe.take(water)

    def remove(self, volume_l: float) -> list[float]:
        """Let out `volume_l` at the bottom, or what there is; return its parcel. Foam and sediment stay."""
        self._layering_stale = True
        taken = self.water.remove(volume_l)
        self._around_probe.take(self.water)
        return taken

    def advance(self, dt_s: float, stir_l_min: float, air_on: bool) -> None:
        """Let `dt_s` pass with this stir flow (L/min at the nozzle) and air. Any `dt_s` >= 0 is stable.

        Raises ValueError for any other.
        """
        if not 0.0 <= dt_s < math.inf:
            raise ValueError(f"cannot let {dt_s} s pass in a tank")
        if stir_l_min != self._asked_l_min or air_on != self._air_on:
            self._react()
            self._asked_l_min, self._air_on = stir_l_min, air_on
            self._layering_stale = True
        if self.water.volume_l < EMPTY_L:
            self.age_s += dt_s
            self.foam.collapse(self.water)
            return
        grid_s = MOVING_STEP_S if stir_l_min > 0.0 or air_on else STILL_STEP_S
        layering = self._layering
        while dt_s > 0.0:
            if self._layering_stale:
                self._survey()
            piece_s = min(dt_s, grid_s - self._since_s)
            dt_s -= piece_s
            self.age_s += piece_s
            self._since_s += piece_s
            self.water.stir(layering.upper * piece_s, layering.lower * piece_s)
            if self._since_s >= grid_s - 1e-9:
                self._react()

    def ph_at_probe(self) -> float:
        """Return pH in the bottom layer, at most one step of the grid old; 7 in an empty tank."""
        return self._around_probe.ph()

    def ec_at_probe(self) -> float:
        """Return conductivity in the bottom layer at its own temperature, uS/cm; 0 in an empty tank."""
        return self._around_probe.ec_us_cm()

    def ph_true(self) -> float:
        """Return the pH of the whole tank as if it were mixed this moment; 7 in an empty tank."""
        if self.volume_l < EMPTY_L:
            return 7.0
        self._solve(self._whole, self.content(), self.volume_l)
        return self._whole.ph

    def content(self) -> list[float]:
        """Return the parcel of all the water, with that in the foam; what lies on the floor is in `floor`."""
        whole = self.water.content()
        add_into(whole, self.foam.content)
        return whole

    def _survey(self) -> None:
        """Look at the weight of the layers and at what stirs them."""
        self.water.mix()
        self._stir_l_min = pumped_l_min(self._asked_l_min, self.level_mm * 1e-3)
        self._layering.survey(self.water, self.area_m2, self._stir_l_min, self.nozzle_mm, self._air_on)
        self._layering_stale = False

    def _solve(self, water: WaterSolver, layer: Sequence[float], volume_l: float) -> None:
        per_l = 1.0 / volume_l
        water.find_ph([amount * per_l for amount in layer], layer[HEAT] * per_l)

    def _react(self) -> None:
        """Let what has piled up happen: exchange, foam, CO2, heat, grains."""
        dt_s, self._since_s = self._since_s, 0.0
        water = self.water
        if dt_s <= 0.0 or water.volume_l < EMPTY_L:
            return
        water.mix()
        self._layering_stale = True
        stirred = self._stir_l_min > 0.0
        gas_l_s = rising_gas_l_s(self._air_on, self._stir_l_min, self.nozzle_mm, self.level_mm * 1e-3)
        self.foam.advance(dt_s, gas_l_s, water, self.area_m2, self.brim_l)
        self._solve(self._top, water.parcels[0], water.volume_l / 3.0)
        self._breathe(dt_s)
        self._surroundings.warm(water, self.age_s, dt_s, stirred)
        depth_m = self.level_mm * 1e-3
        self._sediment.move(water, dt_s, rise_s(stirred, self._air_on), depth_m, self.temperature_c)
        self._sediment.react(water, dt_s, self._top)
        self._around_probe.take(water)

    def _breathe(self, dt_s: float) -> None:
        """Let CO2 cross the surface towards equilibrium with the room.

        CO2(aq) falls by no more than the carbonate that leaves, so the exponential never overshoots.
        """
        third_l = self.water.volume_l / 3.0
        top = self.water.parcels[0]
        water = self._top
        flow_l_s = co2_velocity_m_s(self._stir_l_min, self._air_on) * self.area_m2 * 1e3
        excess = (water.co2 - water.at.henry * self.co2_atm) * 1e3 * third_l
        leaving = excess * -math.expm1(-flow_l_s * dt_s / third_l)
        top[CARBONATE] = max(top[CARBONATE] - leaving, 0.0)
