"""How near solved water is to dropping a mineral, as log10(ion product / solubility product) or as an amount.

The activity of water is taken as 1.
"""

from __future__ import annotations

import math

from sim.matter.charge_balance import WaterSolver


def saturation(water: WaterSolver) -> dict[str, float]:
    """Return the index of calcite, gypsum and brushite (CaHPO4.2H2O); -inf where an ion is absent."""
    return {"calcite": calcite(water), "gypsum": gypsum(water), "brushite": brushite(water)}


def calcite(water: WaterSolver) -> float:
    """Return the saturation index of calcite."""
    return _log_product(water.ca, water.carbonate_ion) - water.at.log_k_calcite


def gypsum(water: WaterSolver) -> float:
    """Return the saturation index of gypsum."""
    return _log_product(water.ca, water.sulfate) - water.at.log_k_gypsum


def brushite(water: WaterSolver) -> float:
    """Return the saturation index of brushite."""
    return _log_product(water.ca, hydrogen_phosphate(water)) - water.at.log_k_brushite


def hydrogen_phosphate(water: WaterSolver) -> float:
    """Return the activity of HPO4-2, mol/kg."""
    return water.phosphate * water.at.phosphate[0] * math.pow(10.0, -water.ph)


def nearest_saturation(water: WaterSolver, anion: float, log_k: float) -> float:
    """Return how much of a Ca mineral separates water from saturation at least, mol/kg, either way.

    `anion` is the activity of its free anion. Free ions move by no more than what dissolves or drops, since
    pairs and buffers take or give some, so that the true way is longer.
    """
    first, second = water.ca * water.lift2, anion * water.lift2
    product = math.pow(10.0, log_k) * water.lift2 * water.lift2
    # (first + x) (second + x) = product, in the form that loses no digits near saturation.
    apart = first - second
    both = first + second
    return abs(2.0 * (product - first * second) / (both + math.sqrt(apart * apart + 4.0 * product)))


def _log_product(first: float, second: float) -> float:
    """Return log10 of a product of activities, -inf where one is absent."""
    return math.log10(first * second) if first * second > 0.0 else -math.inf
