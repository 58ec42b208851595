"""How near solved water is to dropping a mineral: log10(ion product / solubility product)."""

from __future__ import annotations

import math

from sim.charge_balance import WaterSolver


def saturation(water: WaterSolver) -> dict[str, float]:
    """Return the index of calcite, gypsum and brushite (CaHPO4.2H2O); -inf where an ion is absent."""
    return {"calcite": calcite(water), "gypsum": gypsum(water), "brushite": brushite(water)}


def calcite(water: WaterSolver) -> float:
    """Return the saturation index of calcite."""
    return _log_product(water.ca, water.carbonate_ion) - water.at.log_k_calcite


def gypsum(water: WaterSolver) -> float:
    """Return the saturation index of gypsum (the activity of water is taken as 1)."""
    return _log_product(water.ca, water.sulfate) - water.at.log_k_gypsum


def brushite(water: WaterSolver) -> float:
    """Return the saturation index of brushite (the activity of water is taken as 1)."""
    hydrogen_phosphate = water.phosphate * water.at.phosphate[0] * math.pow(10.0, -water.ph)
    return _log_product(water.ca, hydrogen_phosphate) - water.at.log_k_brushite


def _log_product(first: float, second: float) -> float:
    """Return log10 of a product of activities, -inf where one is absent."""
    return math.log10(first * second) if first * second > 0.0 else -math.inf
