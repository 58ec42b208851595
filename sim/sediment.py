"""Grains in the tank that fall to its floor, lie there, rise again, dissolve and grow.

Moves what `grains.py` gives the rates of, and weighs what `minerals.py` makes of it; a grain that falls or
rises takes its weight above water with it.
"""

from __future__ import annotations

import math

from sim.charge_balance import WaterSolver
from sim.grains import RISE_S, fall_m_s
from sim.ions import BRUSHITE, EXCESS, GYPSUM, LIMESTONE, SOLIDS
from sim.layers import Layers
from sim.minerals import react_in_layers

SUSPENDED = range(GYPSUM, GYPSUM + len(SOLIDS))
EXCESS_G_MMOL = {GYPSUM: 0.0980, LIMESTONE: 0.0632, BRUSHITE: 0.0981}
"""Molar mass x (1 - 1 / density): 172.17 g at 2.32, 100.09 g at 2.71 and 172.09 g at 2.328 kg/L (minerals,
from memory).
"""
INERT_EXCESS_G_MMOL = 0.25
"""For grains of no known kind (assumed)."""


class Sediment:
    """What lies on the floor, mmol in the order of `sim.ions.SOLIDS`."""

    __slots__ = ("lying",)

    def __init__(self) -> None:
        self.lying = [0.0] * len(SOLIDS)

    def move(self, water: Layers, dt_s: float, stirred: bool, depth_m: float, temperature_c: float) -> None:
        """Let grains fall to the floor in still water and rise again when the stir pump runs."""
        if stirred:
            share = -math.expm1(-dt_s / RISE_S)
            for place, index in enumerate(SUSPENDED):
                if self.lying[place]:
                    self._settle(water.parcels[2], index, -self.lying[place] * share)
            return
        if not any(layer[index] for layer in water.parcels for index in SUSPENDED):
            return
        share = -math.expm1(-fall_m_s(temperature_c) * dt_s / depth_m)
        for index in SUSPENDED:
            for layer in water.parcels:
                if layer[index]:
                    self._settle(layer, index, layer[index] * share)

    def react(self, water: Layers, dt_s: float, solved: WaterSolver) -> None:
        """Let minerals dissolve or grow, in suspension and on the floor; `solved` is the top layer."""
        before = list(self.lying)
        react_in_layers(water.parcels, water.volume_l / 3.0, dt_s, solved, self.lying)
        for kind, was, rests in zip(SUSPENDED, before, self.lying, strict=True):
            if was != rests:
                water.parcels[2][EXCESS] += (was - rests) * excess_g_mmol(kind)

    def _settle(self, layer: list[float], index: int, fallen: float) -> None:
        """Move grains with their weight from a layer to the floor, or back if `fallen` is negative."""
        layer[index] -= fallen
        layer[EXCESS] -= fallen * excess_g_mmol(index)
        self.lying[index - GYPSUM] += fallen


def excess_g_mmol(solid: int) -> float:
    """Return the mass above that of as much water of a mmol of grains, g."""
    return EXCESS_G_MMOL.get(solid, INERT_EXCESS_G_MMOL)
