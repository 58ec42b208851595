"""Conductivity of solved water from the ions it holds.

kappa = sum of lambda0 |z| c gamma^(0.6 / sqrt|z|): limiting conductivities (CRC Handbook, section 5;
several from memory, the phosphates after the diffusion coefficients in the PHREEQC database), lowered by
the activity factor of Appelo (2010), "Specific conductance: how to calculate, to use, and the pitfalls".
Temperature: lambda follows (eta25 / eta)^p, with p fitted to KCl standards (NIST) for K+ and Cl- and to
Robinson & Stokes' 15-18 deg C table for the rest (from memory). Aim: within 5 % below ionic strength 0.05.
Pairs with charge 0 conduct nothing; humic sites little.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from sim.matter.charge_balance import WaterSolver
from sim.matter.ions import ACID, BASE, CL, HUMATE, NO3
from sim.matter.ligands import humate
from sim.matter.viscosity import water_viscosity_mpa_s

ION = {
    # name: (lambda0 at 25 deg C in S cm2 per equivalent, charge, exponent of viscosity)
    "H": (349.65, 1, 0.62),
    "OH": (198.0, 1, 0.75),
    "Na": (50.08, 1, 0.94),
    "K": (73.48, 1, 0.857),
    "NH4": (73.5, 1, 0.86),
    "Ca": (59.47, 2, 0.97),
    "Mg": (53.0, 2, 0.97),
    "Cl": (76.31, 1, 0.857),
    "NO3": (71.42, 1, 0.81),
    "SO4": (80.0, 2, 0.93),
    "HSO4": (52.0, 1, 0.93),
    "HCO3": (44.5, 1, 0.94),
    "CO3": (69.3, 2, 0.94),
    "H2PO4": (33.0, 1, 0.94),
    "HPO4": (53.0, 2, 0.94),
    "PO4": (69.0, 3, 0.94),
    "H2citrate": (30.0, 1, 0.94),
    "Hcitrate": (50.0, 2, 0.94),
    "citrate": (70.2, 3, 0.94),
    "acetate": (40.9, 1, 0.94),
    "humate": (20.0, 1, 0.94),
    "cation pair": (20.0, 1, 0.94),
    "anion pair": (20.0, 1, 0.94),
}

_VISCOSITY_25 = water_viscosity_mpa_s(25.0)


_EXPONENTS = sorted({exponent for _, _, exponent in ION.values()})
_MOLAR = {
    name: (limit * charge, charge, _EXPONENTS.index(exponent))
    for name, (limit, charge, exponent) in ION.items()
}
"""S cm2 per mole at 25 deg C and no strength, charge, place of its exponent."""


def conductivity_us_cm(water: WaterSolver) -> float:
    """Return the conductivity of the water just solved, uS/cm at its own temperature."""
    log_thinner = math.log(_VISCOSITY_25 / water_viscosity_mpa_s(water.at.temperature_c))
    thinned = [math.exp(exponent * log_thinner) for exponent in _EXPONENTS]
    log_gamma1 = -math.log(water.lift1)
    # gamma_z = gamma_1^(z^2), so the exponent 0.6 / sqrt(z) becomes 0.6 z^1.5
    slowed = [math.exp(0.6 * charge**1.5 * log_gamma1) for charge in (0, 1, 2, 3)]
    total = 0.0
    for name, molar in charged(water):
        limit, charge, place = _MOLAR[name]
        total += limit * molar * slowed[charge] * thinned[place]
    return total * 1e3


def charged(water: WaterSolver) -> Iterator[tuple[str, float]]:
    """Yield every charged species with its concentration, mol/kg; pairs are lumped by their sign."""
    t, at = water.totals, water.at
    lift1, lift2 = water.lift1, water.lift2
    h, ca, mg = math.pow(10.0, -water.ph), water.ca, water.mg
    yield "H", h * lift1
    yield "OH", at.water / h * lift1
    yield "Na", water.na * lift1 + t[BASE]
    yield "K", water.k * lift1
    yield "NH4", water.nh4 * lift1
    yield "Ca", ca * lift2
    yield "Mg", mg * lift2
    yield "Cl", t[CL] + t[ACID]
    yield "NO3", t[NO3]
    hco3, hso4, hpo4 = at.carbonate[0] * h, at.sulfate[0] * h, at.phosphate[0] * h
    yield "CO3", water.carbonate_ion * lift2
    yield "HCO3", water.carbonate_ion * hco3 * lift1
    yield "SO4", water.sulfate * lift2
    yield "HSO4", water.sulfate * hso4 * lift1
    yield "acetate", water.acetate * lift1
    yield "PO4", water.phosphate * water.lift3
    yield "HPO4", water.phosphate * hpo4 * lift2
    yield "H2PO4", water.phosphate * at.phosphate[1] * h * h * lift1
    yield "citrate", water.citrate * water.lift3
    yield "Hcitrate", water.citrate * at.citrate[0] * h * lift2
    yield "H2citrate", water.citrate * at.citrate[1] * h * h * lift1
    if t[HUMATE]:
        yield "humate", humate(t[HUMATE], h / lift1)[0]
    cations, anions = _pairs(water, h)
    yield "cation pair", cations * lift1
    yield "anion pair", anions * lift1


def _pairs(water: WaterSolver, h: float) -> tuple[float, float]:
    """Return the activities of all pairs of charge +1 and of all of charge -1."""
    at, ca, mg = water.at, water.ca, water.mg
    ca_oh, mg_oh = at.hydrolysis
    cations = (ca * ca_oh + mg * mg_oh) / h
    cations += water.carbonate_ion * h * (ca * at.carbonate[3] + mg * at.carbonate[5])
    cations += water.acetate * (ca * at.acetate[1] + mg * at.acetate[2])
    _, _, _, na, k, nh4 = at.sulfate
    anions = water.sulfate * (na * water.na + k * water.k + nh4 * water.nh4)
    na, k = at.sodium_potassium_phosphate
    anions += water.phosphate * h * (na * water.na + k * water.k)
    for bare, pairs in ((water.phosphate, at.phosphate), (water.citrate, at.citrate)):
        anions += bare * (ca * pairs[3] + mg * pairs[6])
        cations += bare * h * h * (ca * pairs[5] + mg * pairs[8])
    return cations, anions
