"""Heat between the tank, its room and the stir pump.

Evaporation is left out (it would cool an open tank by some tenths of a kelvin a night).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from sim.day_swing import swung_c
from sim.matter.ions import HEAT
from sim.vessel.layers import Layers

WATER_J_L_K = 4180.0
"""Heat capacity of water by volume, 10-30 deg C (4.19 to 4.16 kJ/(L K) in steam tables, from memory)."""


@dataclass(frozen=True, slots=True)
class Surroundings:
    """What heats and cools the tank.

    Sides and surface follow Newton's law with one time constant, whatever the level; `stir_heat_w` is
    what the running stir pump leaves in the water: all of its shaft power, and a submerged motor's losses
    (the tank calls it running only while its suction is covered).
    """

    room_c: float = 18.0
    cooling_hours: float = 24.0
    swing_k: float = 0.0
    stir_heat_w: float = 0.0

    def room_at_c(self, age_s: float) -> float:
        """Return the temperature of the room so long after the start."""
        return swung_c(self.room_c, self.swing_k, age_s)

    def warm(self, water: Layers, now_s: float, dt_s: float, stirred: bool) -> None:
        """Let layers that hold water follow the room and the pump for the `dt_s` that end at `now_s`.

        Exact for a constant room: T' = (room - T) / tau + power / heat capacity, with the room as in the
        middle of the time. All layers alike: the sides do most of it.
        """
        tau_s = self.cooling_hours * 3600.0
        goal_c = self.room_at_c(now_s - 0.5 * dt_s)
        if stirred:
            goal_c += self.stir_heat_w * tau_s / (WATER_J_L_K * water.volume_l)
        share = -math.expm1(-dt_s / tau_s)
        goal = goal_c * water.volume_l / 3.0
        for layer in water.parcels:
            layer[HEAT] += (goal - layer[HEAT]) * share
