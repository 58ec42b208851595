"""Grains in the tank that fall to its floor, lie there, rise again and dissolve.

Moves what `grains.py` gives the rates of; a grain that falls or rises takes its weight above water with it.
"""

from __future__ import annotations

import math

from sim.charge_balance import WaterSolver
from sim.grains import DISSOLVES_INTO, FLOOR_SURFACE, RISE_S, dissolving_per_s, fall_m_s
from sim.ions import BRUSHITE, EXCESS, GYPSUM, LIMESTONE, SOLIDS
from sim.layers import Layers

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

    def dissolve(self, water: Layers, dt_s: float, solved: WaterSolver) -> None:
        """Dissolve gypsum and limestone, in suspension and from the floor."""
        for kind, ions in DISSOLVES_INTO.items():
            resting = self.lying[kind - GYPSUM]
            if resting <= 0.0 and not any(layer[kind] for layer in water.parcels):
                continue
            per_s = dissolving_per_s(kind, solved)
            share = -math.expm1(-per_s * dt_s)
            for layer in water.parcels:
                _dissolve_into(layer, ions, layer[kind] * share)
                layer[kind] -= layer[kind] * share
            gone = resting * -math.expm1(-per_s * FLOOR_SURFACE * dt_s)
            self.lying[kind - GYPSUM] = resting - gone
            _dissolve_into(water.parcels[2], ions, gone)
            water.parcels[2][EXCESS] += gone * excess_g_mmol(kind)

    def _settle(self, layer: list[float], index: int, fallen: float) -> None:
        """Move grains with their weight from a layer to the floor, or back if `fallen` is negative."""
        layer[index] -= fallen
        layer[EXCESS] -= fallen * excess_g_mmol(index)
        self.lying[index - GYPSUM] += fallen


def excess_g_mmol(solid: int) -> float:
    """Return the mass above that of as much water of a mmol of grains, g."""
    return EXCESS_G_MMOL.get(solid, INERT_EXCESS_G_MMOL)


def _dissolve_into(layer: list[float], ions: tuple[int, int], amount_mmol: float) -> None:
    """Add one of each ion per mmol of mineral."""
    for ion in ions:
        layer[ion] += amount_mmol
