"""The fixed order of everything that water in the simulated rig carries.

A parcel of liquid is a plain list: conserved totals (mmol), grains not yet dissolved (mmol), what foams
(mL), what it weighs above water (g) and heat (L x deg C). Whatever moves liquid moves the whole list, so
nothing can be forgotten. No chemistry lives here.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

TOTALS = (
    "Na",
    "K",
    "Ca",
    "Mg",
    "NH4",
    "Cl",
    "NO3",
    "SO4",
    "carbonate",
    "phosphate",
    "citrate",
    "acetate",
    "humate",
    "strong_acid",
    "strong_base",
)
"""Conserved totals. Acids and bases are what charge balance leaves over: sulfuric acid is SO4 without a
cation.

`humate` counts carboxyl sites in their acid form; `strong_acid` and `strong_base` are one charge a mole of an
ion that takes part in nothing else.
"""

SOLIDS = ("gypsum", "limestone", "inert", "brushite")
"""Grains in suspension, mmol of CaSO4.2H2O, of CaCO3, of what does not dissolve within a night, and of
CaHPO4.2H2O.
"""

PARCEL = (*TOTALS, *SOLIDS, "foamer", "excess_g", "heat")
"""`foamer` counts mL of foaming inputs; `excess_g` is the mass above that of as much water."""
(NA, K, CA, MG, NH4, CL, NO3, SO4, CARBONATE, PHOSPHATE, CITRATE, ACETATE, HUMATE, ACID, BASE) = range(15)
(GYPSUM, LIMESTONE, INERT, BRUSHITE, FOAMER, EXCESS, HEAT) = range(15, 22)

INDEX = {name: place for place, name in enumerate(PARCEL)}


def parcel(
    totals_mmol: Mapping[str, float], volume_l: float = 0.0, temperature_c: float = 0.0
) -> list[float]:
    """Make a parcel list from named amounts (mmol) and its heat.

    Raises KeyError, naming the key, for a name that is not in `PARCEL`.
    """
    content = [0.0] * len(PARCEL)
    for name, amount in totals_mmol.items():
        content[INDEX[name]] = amount
    content[HEAT] = volume_l * temperature_c
    return content


def scaled(content: Sequence[float], factor: float) -> list[float]:
    """Return `factor` times a parcel."""
    return [amount * factor for amount in content]


def add_into(target: list[float], content: Sequence[float]) -> None:
    """Add a parcel to another, in place."""
    for place, amount in enumerate(content):
        if amount:
            target[place] += amount
