"""Where the search for a pH begins: a coarse look at the charge of a water, as if it were a middling feed.

Nothing here is part of an answer; it only spares rounds of the search.
"""

from __future__ import annotations

from collections.abc import Sequence

from sim.matter.equilibria import HUMIC, Equilibria
from sim.matter.ions import (
    ACETATE,
    ACID,
    BASE,
    CA,
    CARBONATE,
    CITRATE,
    CL,
    HUMATE,
    MG,
    NA,
    NH4,
    NO3,
    PHOSPHATE,
    SO4,
    K,
)

_GRID = (0.0, 1.0, 2.0, 2.7, 3.4, 4.1, 4.8, 5.5, 6.2, 6.9, 7.6, 8.3, 9.0, 9.7, 10.4, 11.1, 12.0, 13.0, 14.0)
_AT = Equilibria(20.0)
_LIFT = 1.15
"""1/gamma of one charge in a middling feed."""
_METAL = 2e-3
"""Activity of Ca and Mg together, as Ca, in a middling feed."""


def _row(ph: float) -> tuple[float, ...]:
    """Return the charge per mole of each weak ion, of CO2 per atm, of water, and what pairs add."""
    h = 10.0**-ph
    once, twice = _AT.carbonate[0] * h / _LIFT**3, _AT.carbonate[1] * h * h / _LIFT**4
    sulfate = _AT.sulfate[0] * h / _LIFT**3
    humic = sum(share * k / (k + h / _LIFT) for k, share in HUMIC)
    bare = _LIFT**4 * _AT.henry / (_AT.carbonate[1] * h * h)
    return (
        -(2.0 + once) / (1.0 + once + twice),
        -(2.0 + sulfate) / (1.0 + sulfate),
        _of_three(_AT.phosphate, h, 0.0),
        _of_three(_AT.citrate, h, 0.0),
        -1.0 / (1.0 + _AT.acetate[0] * h / _LIFT),
        1.0 / (1.0 + _AT.ammonium / h / _LIFT),
        -humic,
        -bare * (2.0 + once),
        (h - _AT.water / h) * _LIFT,
        _of_three(_AT.phosphate, h, _METAL) - _of_three(_AT.phosphate, h, 0.0),
        _of_three(_AT.citrate, h, _METAL) - _of_three(_AT.citrate, h, 0.0),
    )


def _of_three(pairs: Sequence[float], h: float, metal: float) -> float:
    """Return the charge of phosphate or citrate beside this activity of Ca, which counts as whole outside."""
    h1 = pairs[0] * h / _LIFT**5 + metal * pairs[4] * h / _LIFT**9
    h2 = pairs[1] * h * h / _LIFT**8 + metal * pairs[5] * h * h / _LIFT**8
    h3 = pairs[2] * h * h * h / _LIFT**9
    bare = 1.0 + metal * pairs[3] / _LIFT**8
    return -(3.0 * bare + 2.0 * h1 + h2) / (bare + h1 + h2 + h3)


_ROWS = tuple(_row(ph) for ph in _GRID)


def guess_ph(totals: Sequence[float], co2_atm: float | None) -> float:
    """Return a coarse pH of a water of these totals (mol/kg in the order of `TOTALS`), or of one in air."""
    carbonate, air = (totals[CARBONATE], 0.0) if co2_atm is None else (0.0, co2_atm)
    sulfate, phosphate, citrate = totals[SO4], totals[PHOSPHATE], totals[CITRATE]
    acetate, ammonium, humate = totals[ACETATE], totals[NH4], totals[HUMATE]
    metal = totals[CA] + totals[MG]
    paired = metal / (metal + citrate + 1e-3)
    paired_phosphate, paired_citrate = paired * phosphate, paired * citrate
    strong = totals[NA] + totals[K] + totals[BASE] + 2.0 * metal
    strong -= totals[CL] + totals[NO3] + totals[ACID]

    def alkaline(place: int) -> float:
        """Return minus the charge, which rises with pH."""
        row = _ROWS[place]
        return -(
            strong
            + row[0] * carbonate
            + row[1] * sulfate
            + row[2] * phosphate
            + row[3] * citrate
            + row[4] * acetate
            + row[5] * ammonium
            + row[6] * humate
            + row[7] * air
            + row[8]
            + row[9] * paired_phosphate
            + row[10] * paired_citrate
        )

    below, above = 0, len(_GRID) - 1
    low, high = alkaline(below), alkaline(above)
    while above - below > 1:
        middle = (below + above) // 2
        found = alkaline(middle)
        if found < 0.0:
            below, low = middle, found
        else:
            above, high = middle, found
    share = min(max(low / (low - high), 0.0), 1.0)
    return _GRID[below] + share * (_GRID[above] - _GRID[below])


def guess_ionic_strength(totals: Sequence[float]) -> float:
    """Return a coarse ionic strength, mol/kg (weights of mixed feeds, by least squares)."""
    single = totals[NA] + totals[K] + totals[NH4] + totals[CL] + totals[NO3] + totals[ACID] + totals[BASE]
    weak = 0.2 * (totals[CARBONATE] + totals[ACETATE]) + 0.5 * totals[PHOSPHATE] + 0.1 * totals[CITRATE]
    return 0.55 * single + weak + 1.5 * (totals[CA] + totals[MG] + totals[SO4])


def guess_free(last: float, total: float) -> float:
    """Return a coarse activity of a free metal: the last one if it can still be true."""
    if total <= 0.0:
        return 0.0
    return last if 0.01 * total < last < total else 0.6 * total
