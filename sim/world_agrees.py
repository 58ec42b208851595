"""Whether numbers of simulated.toml that are in bounds agree with each other and with the labels.

Adds faults to those of the file; no file is read here.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from controller.settings.values import Input
from sim.matter.ions import SOLIDS, TOTALS
from sim.true_input import Composition
from sim.water import solve
from sim.world_file import WorldFile

COLDEST_C, WARMEST_C = 0.5, 40.0
"""Water that is neither frozen nor beyond the fits of its weight and thickness (`sim/matter`)."""
LIQUID_KG_L = (0.8, 2.0)
"""No liquid that one doses weighs less or more (oils and spirits, heavy brines)."""
GRAINS_G_MOL = {"gypsum": 172.17, "limestone": 100.09, "brushite": 172.09}
"""Sums of IUPAC's atomic weights; what is inert has none."""
AMOUNT_SHARE = 0.15
SUPPLY_PH = (4.0, 10.5)
"""Wider than any rule for drinking water (6.5 to 9.5 in the EU's directive, from memory)."""


def check_swing(file: WorldFile, place: str, temperature_c: float, swing_k: float) -> None:
    """Find fault with a temperature that its swing takes out of what is liquid and fitted."""
    low_c, high_c = temperature_c - swing_k, temperature_c + swing_k
    if low_c < COLDEST_C or high_c > WARMEST_C:
        problem = f"swings {temperature_c:g} °C from {low_c:g} to {high_c:g} °C"
        remedy = f"choose both so that it stays from {COLDEST_C:g} to {WARMEST_C:g} °C"
        file.fault(f"{place}.swing_k", swing_k, problem, remedy)


def check_composition(file: WorldFile, of: Input, said: dict[str, Any], holds: Composition) -> None:
    """Find fault with solids that label or amount contradict; `said` is the input's table as written."""
    place, low, high = f"inputs.{of.name}", *LIQUID_KG_L
    _check_dead(file, place, said, holds)
    if not holds.solid:
        return
    liquid_kg_l = holds.liquid_kg_l(of)
    if not low <= liquid_kg_l <= high:
        problem = (
            f"and grain_kg_l = {holds.grain_kg_l:g} leave {liquid_kg_l:.2f} kg/L to the liquid of an input "
            f"whose density in inputs.toml is {of.density_kg_l:g} kg/L"
        )
        remedy = f"change one of the three so that the liquid weighs {low:g} to {high:g} kg/L"
        file.fault(f"{place}.solid_volume_share", holds.solid_volume_share, problem, remedy)
    if holds.solid not in GRAINS_G_MOL or "solid_mmol_ml" not in said:
        return
    grains_g_ml = holds.solid_volume_share * holds.grain_kg_l
    mmol_ml = grains_g_ml / GRAINS_G_MOL[holds.solid] * 1e3
    if abs(holds.solid_mmol_ml - mmol_ml) > AMOUNT_SHARE * mmol_ml:
        problem = (
            f"disagrees with solid_volume_share = {holds.solid_volume_share:g} of {holds.grain_kg_l:g} kg/L, "
            f"which is {mmol_ml:.3g} mmol/mL of {holds.solid}"
        )
        remedy = f"write {mmol_ml:.3g}, or mend the share or grain_kg_l"
        file.fault(f"{place}.solid_mmol_ml", holds.solid_mmol_ml, problem, remedy)


def check_supply(file: WorldFile, mmol_l: Sequence[float], temperature_c: float) -> None:
    """Find fault with supply water whose ions leave it a pH that no supply has."""
    totals = dict(zip(TOTALS, mmol_l, strict=False))
    low, high = SUPPLY_PH
    try:
        ph = solve(totals, temperature_c).ph
    except ArithmeticError:
        ph = math.inf
    if not low <= ph <= high:
        written = {name: amount for name, amount in totals.items() if amount}
        problem = f"would be water of pH {ph:.1f}: its positive and negative ions are far from even"
        remedy = (
            f"mend the amounts so that its pH is from {low:g} to {high:g}; carbonate is all of CO2's forms"
        )
        file.fault("supply.mmol_l", written, problem, remedy)


def _check_dead(file: WorldFile, place: str, said: dict[str, Any], holds: Composition) -> None:
    """Find fault with lines about grains that have no effect."""
    if not holds.solid:
        for key in sorted(key for key in said if key.startswith(("solid_", "grain_"))):
            remedy = f"name the solid ({', '.join(SOLIDS)}), or remove this line"
            file.fault(f"{place}.{key}", said[key], "has no effect without a solid", remedy)
    elif holds.solid == "inert" and "solid_mmol_ml" in said:
        problem = "has no effect: what is inert is told by its share and density alone"
        file.fault(f"{place}.solid_mmol_ml", holds.solid_mmol_ml, problem, "remove this line")
