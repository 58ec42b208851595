"""Foam on the tank: what blows it up, how fast it breaks, what it lifts out of the water and over the brim.

Steady foam is gas flow x the mean life of foam, Bikerman's unit of foaminess (Trans. Faraday Soc. 34 (1938)
634, from memory); away from it the foam follows dV/dt = gas - V / life, so without gas it has the half-life
ln 2 x life. The life saturates with the foaming input like Langmuir's isotherm of what covers a surface,
life = LIFE_S c / (c + HALF_ML_L). Gas flows, life, half point, wetness and greatest height are assumed: they
make a plant saponin foam of some 10 cm in an aerated tank. Every foaming input counts alike; foam weighs
nothing on what lies below (for what a probe reads of it see `sim/sensing`). Water above the brim runs over
from the top layer, at once.
"""

from __future__ import annotations

import math

from sim.matter.ions import FOAMER, PARCEL, add_into, scaled
from sim.vessel.layers import ALL_IN, Layer, Layers
from sim.vessel.mixing import jet_speed_m_s

LIFE_S = 180.0
HALF_ML_L = 0.2
WETNESS = 0.05
"""Liquid in a volume of foam."""
MOST_MM = 400.0
"""Higher foam collapses under itself."""
AIR_L_S = 20.0 / 60.0
PLUNGING_GAS_SHARE = 0.05
"""Gas that falling water drags down, as a share of it (assumed, low in the range that plunging jets have)."""
JET_GAS_SHARE = 0.05
JET_DECAY = 6.0
"""Speed on the axis of a round jet: 6 U D / distance (common textbook value, from memory)."""
ONSET_M_S = 1.0
"""Slower water drags no air down (onset of plunging-jet entrainment, from memory)."""
GONE_L = 1e-9


def rising_gas_l_s(air_on: bool, flow_l_min: float, nozzle_mm: float, depth_m: float) -> float:
    """Return the gas that bubbles up, L/s: from the air pump, and what a stir jet beats in where it breaks
    the surface (in proportion to how far its speed there is above the onset, assumed).
    """
    air_l_s = AIR_L_S if air_on else 0.0
    if flow_l_min <= 0.0:
        return air_l_s
    bore_m = nozzle_mm * 1e-3
    nozzle_m_s = jet_speed_m_s(flow_l_min, nozzle_mm)
    at_surface_m_s = min(JET_DECAY * nozzle_m_s * bore_m / max(depth_m, bore_m), nozzle_m_s)
    return air_l_s + JET_GAS_SHARE * flow_l_min / 60.0 * max(at_surface_m_s / ONSET_M_S - 1.0, 0.0)


def life_s(foamer_ml_l: float) -> float:
    """Return the mean life of foam over water with this much of foaming inputs, s."""
    return LIFE_S * foamer_ml_l / (foamer_ml_l + HALF_ML_L) if foamer_ml_l > 0.0 else 0.0


class Foam:
    """Foam of `volume_l` that holds `liquid_l` of water; `spilled` is all that went over the brim."""

    __slots__ = ("_gas_l", "content", "liquid_l", "spilled", "spilled_l", "volume_l")

    def __init__(self) -> None:
        self.volume_l = 0.0
        self.liquid_l = 0.0
        self.content = [0.0] * len(PARCEL)
        self.spilled_l = 0.0
        self.spilled = [0.0] * len(PARCEL)
        self._gas_l = 0.0

    def splash(self, water_l: float) -> None:
        """Let water fall in: the air it drags down rises as bubbles in the time to come."""
        self._gas_l += PLUNGING_GAS_SHARE * water_l

    def advance(self, dt_s: float, gas_l_s: float, water: Layers, area_m2: float, brim_l: float) -> None:
        """Let foam grow and break for `dt_s` > 0 over layers that hold water.

        What stands above the brim spills. Wetness is drawn from the top layer and returns to it.
        """
        gas_l_s += self._gas_l / dt_s
        self._gas_l = 0.0
        top = water.parcels[0]
        if top[FOAMER] <= 0.0 and self.volume_l <= 0.0:
            return
        life = life_s(top[FOAMER] * 3.0 / water.volume_l)
        steady_l = gas_l_s * life
        kept = math.exp(-dt_s / life) if life > 0.0 else 0.0
        volume_l = steady_l + (self.volume_l - steady_l) * kept
        self.volume_l = min(volume_l, MOST_MM * area_m2) if volume_l > GONE_L else 0.0
        self._wet(water)
        self.run_over(water, brim_l)
        self._spill(max(brim_l - water.volume_l, 0.0))

    def run_over(self, water: Layers, brim_l: float) -> None:
        """Let the water that stands above the brim run over."""
        held_l = water.volume_l
        if held_l > brim_l:
            add_into(self.spilled, water.remove(held_l - brim_l, Layer.TOP))
            self.spilled_l += held_l - water.volume_l

    def collapse(self, water: Layers) -> None:
        """Let all foam break at once."""
        self.volume_l = 0.0
        self._wet(water)

    def _wet(self, water: Layers) -> None:
        """Draw from the top layer, or give back, what makes the foam as wet as it is."""
        missing_l = WETNESS * self.volume_l - self.liquid_l
        if missing_l > 0.0:
            held_l = water.volume_l
            add_into(self.content, water.remove(missing_l, Layer.TOP))
            self.liquid_l += held_l - water.volume_l
        elif missing_l < 0.0:
            self._shrink(-missing_l, water)

    def _shrink(self, liquid_l: float, water: Layers) -> None:
        back = scaled(self.content, liquid_l / self.liquid_l)
        self.content = [amount - gone for amount, gone in zip(self.content, back, strict=True)]
        self.liquid_l -= liquid_l
        water.add(liquid_l, back, ALL_IN[Layer.TOP])

    def _spill(self, room_l: float) -> None:
        """Let what stands higher than `room_l` run over the brim."""
        if self.volume_l <= room_l:
            return
        share = 1.0 - room_l / self.volume_l
        gone = scaled(self.content, share)
        add_into(self.spilled, gone)
        self.content = [amount - lost for amount, lost in zip(self.content, gone, strict=True)]
        self.spilled_l += self.liquid_l * share
        self.liquid_l -= self.liquid_l * share
        self.volume_l = room_l
