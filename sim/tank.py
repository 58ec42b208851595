"""The feed tank: three layers of water that exchange, take in, give out and age.

Each layer holds a third of the volume and its own parcel (`sim.ions.PARCEL`). Doses and fill enter at the
top, the drain and the feed leave from the bottom, where the probe hangs. Not here: pumps, sensors, who
decides.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from sim.charge_balance import WaterSolver
from sim.conductivity import conductivity_us_cm
from sim.gas_exchange import co2_velocity_m_s
from sim.grains import DISSOLVES_INTO, FLOOR_SURFACE, RISE_S, dissolving_per_s, fall_m_s
from sim.ions import CARBONATE, GYPSUM, HEAT, SOLIDS
from sim.layers import EMPTY_L, Layer, Layers
from sim.mixing import ROUNDS_TO_95, jet_mixing_time_s

STILL_MIXING_S = 3.0 * 3600.0
AIR_MIXING_S = 180.0
"""95 % times of a still tank (convection) and of one stirred by bubbles alone (assumed)."""
PLUNGING_ROUNDS = 6.0
"""Exchange caused by water that falls in, per tank volume of it (assumed)."""
MOVING_STEP_S = 2.0
STILL_STEP_S = 20.0
SUSPENDED = range(GYPSUM, GYPSUM + len(SOLIDS))


class Tank:
    """An upright tank. Chemistry moves on a grid of 2 s (moving water) or 20 s (still), whatever `advance`
    is given.

    `nozzle_mm` is the bore of the stir nozzle; `room_c` and `room_hours` say where and how fast its heat
    goes.
    """

    __slots__ = (
        "_air_on",
        "_bottom",
        "_probe_ec_us_cm",
        "_probe_stale",
        "_since_s",
        "_stir_l_min",
        "_top",
        "_whole",
        "area_m2",
        "co2_atm",
        "floor",
        "nozzle_mm",
        "room_c",
        "room_s",
        "water",
    )

    def __init__(
        self,
        area_m2: float,
        nozzle_mm: float,
        room_c: float = 18.0,
        room_hours: float = 24.0,
        co2_ppm: float = 420.0,
    ) -> None:
        self.area_m2 = area_m2
        self.nozzle_mm = nozzle_mm
        self.room_c = room_c
        self.room_s = room_hours * 3600.0
        self.co2_atm = co2_ppm * 1e-6
        self.water = Layers()
        self.floor = [0.0] * len(SOLIDS)
        self._top, self._bottom, self._whole = WaterSolver(), WaterSolver(), WaterSolver()
        self._since_s = 0.0
        self._stir_l_min = 0.0
        self._air_on = False
        self._probe_stale = True
        self._probe_ec_us_cm = -1.0

    @property
    def volume_l(self) -> float:
        """Contents, L."""
        return self.water.volume_l

    @property
    def level_mm(self) -> float:
        """Height of the water, mm."""
        return self.volume_l / self.area_m2

    @property
    def temperature_c(self) -> float:
        """Temperature where the probe hangs, deg C; the room's when the tank is empty."""
        if self.volume_l < EMPTY_L:
            return self.room_c
        return self.water.parcels[2][HEAT] * 3.0 / self.volume_l

    def add(
        self, volume_ml: float, content: Sequence[float], at: Layer = Layer.TOP, plunging: bool = False
    ) -> None:
        """Take in liquid; `content` is its whole parcel. `plunging` water stirs what it falls into.

        Raises ValueError for a negative volume.
        """
        first = self.water.volume_l < EMPTY_L
        self.water.add(volume_ml * 1e-3, content, at)
        share = volume_ml * 1e-3 / max(self.water.volume_l, EMPTY_L)
        if plunging:
            self.water.rounds += PLUNGING_ROUNDS * share
        if first or share > 0.005:
            self._probe_stale = True

    def remove(self, volume_l: float) -> list[float]:
        """Let out `volume_l`, or what there is, at the bottom and return its parcel; grains that lie stay."""
        self._probe_stale = True
        return self.water.remove(volume_l)

    def advance(self, dt_s: float, stir_l_min: float, air_on: bool) -> None:
        """Let `dt_s` pass with this stir flow (L/min at the nozzle) and air. Any `dt_s` >= 0 is stable."""
        if stir_l_min != self._stir_l_min or air_on != self._air_on:
            self._react()
            self._stir_l_min, self._air_on = stir_l_min, air_on
        if self.volume_l < EMPTY_L:
            return
        moving = stir_l_min > 0.0 or air_on
        grid_s = MOVING_STEP_S if moving else STILL_STEP_S
        rate = self._exchange_per_s()
        while dt_s > 0.0:
            piece_s = min(dt_s, grid_s - self._since_s)
            dt_s -= piece_s
            self._since_s += piece_s
            self.water.rounds += rate * piece_s
            if self._since_s >= grid_s - 1e-9:
                self._react()

    def ph_at_probe(self) -> float:
        """Return pH in the bottom layer, at most one step of the grid old; 7 in an empty tank."""
        self._look_at_probe()
        return self._bottom.ph if self.volume_l >= EMPTY_L else 7.0

    def ec_at_probe(self) -> float:
        """Return conductivity in the bottom layer at its own temperature, uS/cm; 0 in an empty tank."""
        self._look_at_probe()
        if self.volume_l < EMPTY_L:
            return 0.0
        if self._probe_ec_us_cm < 0.0:
            self._probe_ec_us_cm = conductivity_us_cm(self._bottom)
        return self._probe_ec_us_cm

    def ph_true(self) -> float:
        """Return the pH of the whole tank as if it were mixed this moment; 7 in an empty tank."""
        if self.volume_l < EMPTY_L:
            return 7.0
        whole = self.content()
        self._solve(self._whole, whole, self.volume_l)
        return self._whole.ph

    def content(self) -> list[float]:
        """Return the parcel of all the water; what lies on the floor is in `floor`."""
        return self.water.content()

    def _exchange_per_s(self) -> float:
        """Return the exchange rate of neighbouring layers at the present level and flow."""
        diameter_m = math.sqrt(4.0 * self.area_m2 / math.pi)
        path_m = math.hypot(diameter_m, self.level_mm * 1e-3)
        rate = 1.0 / STILL_MIXING_S + 1.0 / jet_mixing_time_s(self._stir_l_min, self.nozzle_mm, path_m)
        if self._air_on:
            rate += 1.0 / AIR_MIXING_S
        return ROUNDS_TO_95 * rate

    def _look_at_probe(self) -> None:
        if self._probe_stale and self.volume_l >= EMPTY_L:
            self.water.mix()
            self._solve(self._bottom, self.water.parcels[2], self.volume_l / 3.0)
            self._probe_stale = False
            self._probe_ec_us_cm = -1.0

    def _solve(self, water: WaterSolver, layer: Sequence[float], volume_l: float) -> None:
        per_l = 1.0 / volume_l
        water.find_ph([amount * per_l for amount in layer], layer[HEAT] * per_l)

    def _react(self) -> None:
        """Let what has piled up happen: exchange, CO2, heat, grains."""
        dt_s, self._since_s = self._since_s, 0.0
        if dt_s <= 0.0 or self.volume_l < EMPTY_L:
            return
        self.water.mix()
        self._probe_stale = True
        self._solve(self._top, self.water.parcels[0], self.volume_l / 3.0)
        self._breathe(dt_s)
        self._cool(dt_s)
        self._move_grains(dt_s)
        self._dissolve(dt_s)

    def _breathe(self, dt_s: float) -> None:
        """Let CO2 cross the surface towards equilibrium with the room.

        CO2(aq) falls by no more than the carbonate that leaves, so the exponential never overshoots.
        """
        third_l = self.volume_l / 3.0
        top = self.water.parcels[0]
        water = self._top
        flow_l_s = co2_velocity_m_s(self._stir_l_min, self._air_on) * self.area_m2 * 1e3
        excess = (water.co2 - water.at.henry * self.co2_atm) * 1e3 * third_l
        leaving = excess * -math.expm1(-flow_l_s * dt_s / third_l)
        top[CARBONATE] = max(top[CARBONATE] - leaving, 0.0)

    def _cool(self, dt_s: float) -> None:
        """Let the water follow the room."""
        share = -math.expm1(-dt_s / self.room_s)
        for layer in self.water.parcels:
            layer[HEAT] += (self.room_c * self.volume_l / 3.0 - layer[HEAT]) * share

    def _move_grains(self, dt_s: float) -> None:
        """Let grains fall to the floor in still water and rise again when the stir pump runs."""
        if self._stir_l_min > 0.0:
            share = -math.expm1(-dt_s / RISE_S)
            for place, index in enumerate(SUSPENDED):
                lifted = self.floor[place] * share
                self.floor[place] -= lifted
                self.water.parcels[2][index] += lifted
            return
        if not any(layer[index] for layer in self.water.parcels for index in SUSPENDED):
            return
        share = -math.expm1(-fall_m_s(self.temperature_c) * dt_s / (self.level_mm * 1e-3))
        for place, index in enumerate(SUSPENDED):
            for layer in self.water.parcels:
                fallen = layer[index] * share
                layer[index] -= fallen
                self.floor[place] += fallen

    def _dissolve(self, dt_s: float) -> None:
        """Dissolve gypsum and limestone, in suspension and from the floor."""
        for kind, ions in DISSOLVES_INTO.items():
            resting = self.floor[kind - GYPSUM]
            if resting <= 0.0 and not any(layer[kind] for layer in self.water.parcels):
                continue
            per_s = dissolving_per_s(kind, self._top)
            share = -math.expm1(-per_s * dt_s)
            for layer in self.water.parcels:
                _dissolve_into(layer, ions, layer[kind] * share)
                layer[kind] -= layer[kind] * share
            gone = resting * -math.expm1(-per_s * FLOOR_SURFACE * dt_s)
            self.floor[kind - GYPSUM] = resting - gone
            _dissolve_into(self.water.parcels[2], ions, gone)


def _dissolve_into(layer: list[float], ions: tuple[int, int], amount_mmol: float) -> None:
    """Add one of each ion per mmol of mineral."""
    for ion in ions:
        layer[ion] += amount_mmol
