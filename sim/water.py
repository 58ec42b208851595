"""What water is, from what is in it: pH, conductivity, saturation of one named mixture.

The answer for one water, for whoever has no tank. Not here: the solver itself, time, tanks, rates.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from sim.matter.charge_balance import WaterSolver
from sim.matter.conductivity import conductivity_us_cm
from sim.matter.ions import INDEX, TOTALS
from sim.matter.saturation import saturation

AIR_CO2_PPM = 400.0
"""CO2 of the air for `co2="open"` unless told otherwise: log p = -3.398 atm, the usual check value."""


@dataclass(frozen=True, slots=True)
class Solution:
    """Water at equilibrium. Saturation is log10(ion product / solubility product), -inf without the ion."""

    ph: float
    conductivity_us_cm: float
    saturation: Mapping[str, float]
    ionic_strength: float
    carbonate_mmol_per_kg: float
    co2_mmol_per_kg: float


def solve(
    totals_mmol_per_kg: Mapping[str, float],
    temperature_c: float,
    co2: Literal["closed", "open"] = "closed",
    co2_ppm: float = AIR_CO2_PPM,
) -> Solution:
    """Solve one water: totals in mmol/kg by the names of `TOTALS`, conductivity at `temperature_c`.

    `co2="open"` ignores the total of carbonate and holds CO2 at equilibrium with air of `co2_ppm`.
    Raises ValueError for an unknown total, a negative or non-finite amount, or a temperature outside 0-60
    deg C.
    """
    if co2 not in ("closed", "open"):
        raise ValueError(f"co2 must be 'closed' or 'open', not {co2!r}")
    if not 0.0 <= temperature_c <= 60.0:
        raise ValueError(f"temperature {temperature_c} deg C is outside 0-60")
    water = WaterSolver()
    water.find_ph(_checked(totals_mmol_per_kg), temperature_c, co2_ppm * 1e-6 if co2 == "open" else None)
    return Solution(
        ph=water.ph,
        conductivity_us_cm=conductivity_us_cm(water),
        saturation=saturation(water),
        ionic_strength=water.ionic_strength,
        carbonate_mmol_per_kg=water.carbonate * 1e3,
        co2_mmol_per_kg=water.co2 * 1e3,
    )


def _checked(totals_mmol_per_kg: Mapping[str, float]) -> list[float]:
    """Return the totals in their fixed order, or raise ValueError."""
    amounts = [0.0] * len(TOTALS)
    for name, amount in totals_mmol_per_kg.items():
        if name not in TOTALS:
            raise ValueError(f"unknown total {name!r}; known: {', '.join(TOTALS)}")
        if not 0.0 <= amount < math.inf:
            raise ValueError(f"total {name} must be finite and not negative, not {amount}")
        amounts[INDEX[name]] = amount
    return amounts
