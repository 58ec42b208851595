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

from sim.charge_balance import WaterSolver
from sim.ions import (
    ACETATE,
    ACID,
    BASE,
    CITRATE,
    CL,
    HUMATE,
    NA,
    NH4,
    NO3,
    PHOSPHATE,
    K,
)
from sim.viscosity import water_viscosity_mpa_s

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
    "pair": (20.0, 1, 0.94),
}

_VISCOSITY_25 = water_viscosity_mpa_s(25.0)


def conductivity_us_cm(water: WaterSolver) -> float:
    """Return the conductivity of the water just solved, uS/cm at its own temperature."""
    thinner = _VISCOSITY_25 / water_viscosity_mpa_s(water.at.temperature_c)
    log_gamma1 = math.log(water.conditional.gamma1)
    total = 0.0
    for name, molar in _charged(water):
        limit, charge, exponent = ION[name]
        # gamma_z = gamma_1^(z^2), so the exponent 0.6 / sqrt(z) becomes 0.6 z^1.5
        slowed = math.exp(0.6 * charge**1.5 * log_gamma1)
        total += limit * charge * molar * slowed * thinner**exponent
    return total * 1e3


def _charged(water: WaterSolver) -> Iterator[tuple[str, float]]:
    """Yield every charged species with its concentration, mol/kg."""
    t, use = water.totals, water.conditional
    h = math.pow(10.0, -water.ph)
    ca, mg = water.ca, water.mg
    yield "H", h / use.gamma1
    yield "OH", use.hydroxide / h
    yield "Na", t[NA] + t[BASE]
    yield "K", t[K]
    yield "NH4", t[NH4] * h / (h + use.ammonia)
    yield "Ca", ca
    yield "Mg", mg
    yield "Cl", t[CL] + t[ACID]
    yield "NO3", t[NO3]
    yield "SO4", water.free_sulfate(h)
    yield "HSO4", water.free_sulfate(h) * use.sulfate1 * h
    carbonate = water.co2 / (use.carbonate2 * h * h)
    yield "CO3", carbonate
    yield "HCO3", carbonate * use.carbonate1 * h
    acetate = t[ACETATE] / (1.0 + use.acetate1 * h + ca * use.ca_acetate + mg * use.mg_acetate)
    yield "acetate", acetate
    pairs = carbonate * h * (ca * use.ca_carbonate[1] + mg * use.mg_carbonate[1])
    pairs += acetate * (ca * use.ca_acetate + mg * use.mg_acetate)
    if t[PHOSPHATE]:
        bare = water.free_phosphate(h)
        b1, b2, _ = use.phosphate
        yield "PO4", bare
        yield "HPO4", bare * b1 * h
        yield "H2PO4", bare * b2 * h * h
        pairs += bare * (ca * _ends(use.ca_phosphate, h) + mg * _ends(use.mg_phosphate, h))
    if t[CITRATE]:
        bare = water.free_citrate(h)
        b1, b2, _ = use.citrate
        yield "citrate", bare
        yield "Hcitrate", bare * b1 * h
        yield "H2citrate", bare * b2 * h * h
        pairs += bare * (ca * _ends(use.ca_citrate, h) + mg * _ends(use.mg_citrate, h))
    if t[HUMATE]:
        lost = sum(share * k / (k + h * use.gamma1) for k, share in water.at.humic)
        yield "humate", t[HUMATE] * lost
    yield "pair", pairs


def _ends(pair: tuple[float, float, float], h: float) -> float:
    """Return the charged pairs of a trivalent ligand: the bare one and the one with two protons."""
    return pair[0] + pair[2] * h * h
