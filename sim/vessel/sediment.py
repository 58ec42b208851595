"""Grains in the tank that fall to its floor, lie there, rise again, dissolve and grow.

Moves what `matter/grains.py` gives the rates of, and weighs what `matter/minerals.py` makes of it; a grain
that falls or rises takes its weight above water with it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from sim.matter.charge_balance import WaterSolver
from sim.matter.grains import EXCESS_G_MMOL, Grain
from sim.matter.ions import EXCESS, GYPSUM, SOLIDS
from sim.matter.minerals import react_in_layers
from sim.vessel.layers import Layers

SUSPENDED = range(GYPSUM, GYPSUM + len(SOLIDS))


class Sediment:
    """What lies on the floor, mmol in the order of `SOLIDS`; `grains` says how each kind falls."""

    __slots__ = ("_grains", "lying")

    def __init__(self, grains: Mapping[int, Grain]) -> None:
        self._grains = grains
        self.lying = [0.0] * len(SOLIDS)

    def move(self, water: Layers, dt_s: float, rise_s: float, depth_m: float, temperature_c: float) -> None:
        """Let grains fall to the floor in still water (`rise_s` 0), and rise again in moving water.

        While water moves none settle, and what lies is lifted with the time constant `rise_s` (both assumed).
        """
        if rise_s > 0.0:
            share = -math.expm1(-dt_s / rise_s)
            for place, index in enumerate(SUSPENDED):
                if self.lying[place]:
                    self._settle(water.parcels[2], index, -self.lying[place] * share)
            return
        for index in SUSPENDED:
            if not any(layer[index] for layer in water.parcels):
                continue
            share = -math.expm1(-self._grains[index].fall_m_s(temperature_c) * dt_s / depth_m)
            for layer in water.parcels:
                if layer[index]:
                    self._settle(layer, index, layer[index] * share)

    def react(self, water: Layers, dt_s: float, solved: WaterSolver) -> None:
        """Let minerals dissolve or grow, in suspension and on the floor; `solved` is the top layer."""
        before = list(self.lying)
        react_in_layers(water.parcels, water.volume_l / 3.0, dt_s, solved, self.lying)
        for kind, was, rests in zip(SUSPENDED, before, self.lying, strict=True):
            if was != rests:
                water.parcels[2][EXCESS] += (was - rests) * EXCESS_G_MMOL[kind]

    def _settle(self, layer: list[float], index: int, fallen: float) -> None:
        """Move grains with their weight from a layer to the floor, or back if `fallen` is negative."""
        layer[index] -= fallen
        layer[EXCESS] -= fallen * EXCESS_G_MMOL[index]
        self.lying[index - GYPSUM] += fallen
