"""Equilibrium constants of the simulated water and how they move with temperature and ionic strength.

Sources, each with its standing:
- CO2, HCO3-, calcite: Plummer & Busenberg, Geochim. Cosmochim. Acta 46 (1982) 1011 (coefficients as in the
  USGS PHREEQC databases, read there). Water, gypsum, ammonium: the same databases.
- phosphoric, citric and acetic acid: Goldberg, Kishore & Lennen, J. Phys. Chem. Ref. Data 31 (2002) 231;
  citric and acetic pK as in NIST 46; phosphoric pK and all enthalpies from memory.
- pairs of Ca and Mg: PHREEQC database (carbonate, sulfate, phosphate); NIST 46 (citrate, acetate; from
  memory).
- brushite: Gregory, Moreno et al. 1970 as quoted in reviews.
- humic sites: spread of Model VI, Tipping, Aquatic Geochemistry 4 (1998) 3, without its electrostatics
  (from memory).
- activity: Davies with 0.3 (Davies 1962), honest to ionic strength 0.1, usable to 0.5.

Only constants live here; who solves with them is `water.py`.
"""

from __future__ import annotations

import math

GAS_J_MOL_K = 8.314462618
KELVIN = 273.15
REFERENCE_K = 298.15
LN10 = math.log(10.0)

HUMIC_SITES = (
    (3.05, 0.25),
    (3.75, 0.25),
    (4.45, 0.25),
    (5.15, 0.25),
    (7.0, 0.125),
    (8.2, 0.125),
    (9.4, 0.125),
    (10.6, 0.125),
)
"""(pK, sites per carboxyl site): four carboxyl and four phenol classes, half as many phenols as carboxyls."""


def ten_to(exponent: float) -> float:
    """Return 10 to a power."""
    return math.pow(10.0, exponent)


def _shifted(log_k_25: float, enthalpy_kj: float, kelvin: float) -> float:
    """Return log K moved from 25 deg C by van 't Hoff with a constant enthalpy."""
    return log_k_25 - enthalpy_kj * 1000.0 / (GAS_J_MOL_K * LN10) * (1.0 / kelvin - 1.0 / REFERENCE_K)


class Equilibria:
    """Constants at one temperature and zero ionic strength; `log_k_...` are base 10, the others plain."""

    __slots__ = (
        "acetate",
        "ammonium",
        "citrate",
        "davies_a",
        "henry",
        "humic",
        "k1",
        "k2",
        "kelvin",
        "log_k_brushite",
        "log_k_calcite",
        "log_k_gypsum",
        "pairs",
        "phosphate",
        "sulfate",
        "temperature_c",
        "water",
    )

    def __init__(self, temperature_c: float) -> None:
        t = temperature_c + KELVIN
        log_t = math.log10(t)
        self.temperature_c = temperature_c
        self.kelvin = t
        self.davies_a = _davies_a(temperature_c)
        self.water = ten_to(
            293.29227 + 0.1360833 * t - 10576.913 / t - 123.73158 * log_t - 6.996455e-5 * t * t
        )
        self.k1 = ten_to(-356.3094 - 0.06091964 * t + 21834.37 / t + 126.8339 * log_t - 1684915.0 / (t * t))
        self.k2 = ten_to(-107.8871 - 0.03252849 * t + 5151.79 / t + 38.92561 * log_t - 563713.9 / (t * t))
        self.henry = ten_to(108.3865 + 0.01985076 * t - 6919.53 / t - 40.45154 * log_t + 669365.0 / (t * t))
        self.ammonium = ten_to(0.6322 - 0.001225 * t - 2835.76 / t)
        self.log_k_calcite = -171.9065 - 0.077993 * t + 2839.319 / t + 71.595 * log_t
        self.log_k_gypsum = 68.2401 - 3221.51 / t - 25.0627 * log_t
        self.log_k_brushite = -6.59
        self.phosphate = _acid(((2.148, -8.0), (7.198, 3.6), (12.35, 16.0)), t)
        self.citrate = _acid(((3.128, 4.07), (4.761, 2.23), (6.396, -3.38)), t)
        self.acetate = _acid(((4.757, -0.41),), t)
        self.sulfate = _acid(((1.988, -16.1),), t)
        self.humic = tuple((ten_to(-pk), share) for pk, share in HUMIC_SITES)
        self.pairs = _pairs(t)


def _davies_a(temperature_c: float) -> float:
    """Return the Debye-Hueckel slope A; a line through 0.498 (10), 0.510 (25) and 0.519 (35 deg C)."""
    return 0.5100 + 8.2e-4 * (temperature_c - 25.0)


def _acid(steps: tuple[tuple[float, float], ...], kelvin: float) -> tuple[float, ...]:
    """Return cumulated association constants, strongest first, of (pK, enthalpy kJ/mol) steps."""
    cumulated: list[float] = []
    log_beta = 0.0
    for pk, enthalpy in reversed(steps):
        log_beta += -_shifted(-pk, enthalpy, kelvin)
        cumulated.append(ten_to(log_beta))
    return tuple(cumulated)


PAIRS = {
    # ligand form -> (log K with Ca, kJ/mol, log K with Mg, kJ/mol)
    "CO3": (3.224, 14.83, 2.98, 11.35),
    "HCO3": (1.106, 11.26, 1.07, 3.31),
    "SO4": (2.25, 5.54, 2.37, 19.04),
    "PO4": (6.459, 12.97, 6.589, 12.97),
    "HPO4": (2.739, 13.81, 2.87, 13.81),
    "H2PO4": (1.408, 14.23, 1.513, 14.23),
    "citrate": (4.87, -8.0, 4.89, 8.0),
    "Hcitrate": (2.86, 0.0, 2.60, 0.0),
    "H2citrate": (1.10, 0.0, 1.31, 0.0),
    "acetate": (1.18, 4.0, 1.27, 0.0),
}


def _pairs(kelvin: float) -> dict[str, tuple[float, float]]:
    """Return the pair constants with Ca and with Mg at this temperature."""
    return {
        form: (10.0 ** _shifted(ca, ca_kj, kelvin), 10.0 ** _shifted(mg, mg_kj, kelvin))
        for form, (ca, ca_kj, mg, mg_kj) in PAIRS.items()
    }


class Conditional:
    """Constants for concentrations at one ionic strength, flat floats for speed.

    `..1`, `..2`, `..3` cumulated protons on the bare ligand; `ca_..`/`mg_..` pairs with the form that has
    that many protons. Protons enter as activity, everything else as mol/kg.
    """

    __slots__ = (
        "acetate1",
        "ammonia",
        "ca_acetate",
        "ca_carbonate",
        "ca_citrate",
        "ca_phosphate",
        "ca_sulfate",
        "carbonate1",
        "carbonate2",
        "citrate",
        "gamma1",
        "gamma2",
        "hydroxide",
        "mg_acetate",
        "mg_carbonate",
        "mg_citrate",
        "mg_phosphate",
        "mg_sulfate",
        "phosphate",
        "sulfate1",
    )

    def __init__(self, at: Equilibria, ionic_strength: float) -> None:
        root = math.sqrt(min(ionic_strength, 0.5))
        g1 = ten_to(-at.davies_a * (root / (1.0 + root) - 0.3 * root * root))
        g2 = g1 * g1 * g1 * g1
        g3 = g2 * g2 * g1
        self.gamma1 = g1
        self.gamma2 = g2
        self.hydroxide = at.water / g1
        self.ammonia = at.ammonium * g1
        self.carbonate1 = g2 / (at.k2 * g1)
        self.carbonate2 = g2 / (at.k1 * at.k2)
        self.sulfate1 = at.sulfate[0] * g2 / g1
        self.acetate1 = at.acetate[0] * g1
        self.phosphate = (
            at.phosphate[0] * g3 / g2,
            at.phosphate[1] * g3 / g1,
            at.phosphate[2] * g3,
        )
        self.citrate = (at.citrate[0] * g3 / g2, at.citrate[1] * g3 / g1, at.citrate[2] * g3)
        pairs = at.pairs
        trivalent = g2 * g3 / g1
        divalent = g2 * g2
        self.ca_carbonate = (pairs["CO3"][0] * divalent, pairs["HCO3"][0] * g2 * self.carbonate1, 0.0)
        self.mg_carbonate = (pairs["CO3"][1] * divalent, pairs["HCO3"][1] * g2 * self.carbonate1, 0.0)
        self.ca_sulfate = pairs["SO4"][0] * divalent
        self.mg_sulfate = pairs["SO4"][1] * divalent
        self.ca_acetate = pairs["acetate"][0] * g2
        self.mg_acetate = pairs["acetate"][1] * g2
        forms = (("PO4", "HPO4", "H2PO4"), ("citrate", "Hcitrate", "H2citrate"))
        scale = (trivalent, divalent, g2)
        (self.ca_phosphate, self.mg_phosphate), (self.ca_citrate, self.mg_citrate) = (
            tuple(
                (
                    pairs[names[0]][metal] * scale[0],
                    pairs[names[1]][metal] * scale[1] * beta[0],
                    pairs[names[2]][metal] * scale[2] * beta[1],
                )
                for metal in (0, 1)
            )
            for names, beta in zip(forms, (self.phosphate, self.citrate), strict=True)
        )
