"""How near solved water is to dropping a mineral: log10(ion product / solubility product)."""

from __future__ import annotations

import math

from sim.charge_balance import WaterSolver


def saturation(water: WaterSolver) -> dict[str, float]:
    """Return the index of calcite, gypsum and brushite (CaHPO4.2H2O); -inf where an ion is absent."""
    h = math.pow(10.0, -water.ph)
    use = water.conditional
    phosphate = water.free_phosphate(h) * use.phosphate[0] * h * use.gamma2
    return {
        "calcite": calcite(water),
        "gypsum": gypsum(water),
        "brushite": _log_product(water.ca * use.gamma2, phosphate) - water.at.log_k_brushite,
    }


def calcite(water: WaterSolver) -> float:
    """Return the saturation index of calcite."""
    h = math.pow(10.0, -water.ph)
    carbonate = water.co2 * water.at.k1 * water.at.k2 / (h * h)
    return _log_product(water.ca * water.conditional.gamma2, carbonate) - water.at.log_k_calcite


def gypsum(water: WaterSolver) -> float:
    """Return the saturation index of gypsum (the activity of water is taken as 1)."""
    gamma2 = water.conditional.gamma2
    sulfate = water.free_sulfate(math.pow(10.0, -water.ph)) * gamma2
    return _log_product(water.ca * gamma2, sulfate) - water.at.log_k_gypsum


def _log_product(first: float, second: float) -> float:
    """Return log10 of a product of activities, -inf where one is absent."""
    return math.log10(first * second) if first * second > 0.0 else -math.inf
