"""Equilibrium constants of the simulated water at zero ionic strength, and how temperature moves them.

Sources, each with its standing:
- CO2, HCO3-, calcite: Plummer & Busenberg, Geochim. Cosmochim. Acta 46 (1982) 1011 (coefficients as in the
  USGS PHREEQC databases, read there). Water, gypsum, ammonium, HSO4-: the same databases.
- phosphoric, citric and acetic acid: Goldberg, Kishore & Lennen, J. Phys. Chem. Ref. Data 31 (2002) 231;
  citric and acetic pK as in NIST 46; phosphoric pK, all enthalpies and heat capacities from memory.
- pairs: PHREEQC database (carbonate, sulfate, phosphate, hydroxide; of Na, K and NH4 with sulfate, of Na and
  K with HPO4-2); NIST 46 (citrate, acetate; from memory). Na with carbonate: none, because the constant of
  older databases (1.27) puts the primary carbonate buffer 0.15 pH too low.
- brushite: Gregory, Moreno et al. 1970 as quoted in reviews, 25 deg C; its solubility hardly moves between
  15 and 37 deg C (from memory), so no temperature term.
- humic sites: spread of Model VI, Tipping, Aquatic Geochemistry 4 (1998) 3, without its electrostatics
  (from memory). Good for the shape of a titration between pH 3 and 11, not for a given humic acid; binds no
  metal here.
- activity: Davies with 0.3 (Davies 1962), honest to ionic strength 0.1, usable to 0.5.

Only constants live here; who solves with them is `charge_balance.py`.
"""

from __future__ import annotations

import math
from functools import lru_cache

from sim.matter.physical_constants import GAS_J_MOL_K, KELVIN

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

HUMIC = tuple((10.0**-pk, share) for pk, share in HUMIC_SITES)
"""(acid constant, sites per carboxyl site); no temperature term."""

Pair = tuple[float, float]
"""A constant at 25 deg C as log K, and its enthalpy in kJ/mol."""

PAIRS: dict[str, Pair] = {
    "CaSO4": (2.25, 5.54),
    "MgSO4": (2.37, 19.04),
    "NaSO4": (0.7, 4.69),
    "KSO4": (0.85, 12.9),
    "NH4SO4": (1.11, 0.0),
    "CaPO4": (6.459, 12.97),
    "MgPO4": (6.589, 12.97),
    "CaHPO4": (2.739, 13.81),
    "MgHPO4": (2.87, 13.81),
    "NaHPO4": (0.29, 0.0),
    "KHPO4": (0.29, 0.0),
    "CaH2PO4": (1.408, 14.23),
    "MgH2PO4": (1.513, 14.23),
    "Ca citrate": (4.87, -8.0),
    "Mg citrate": (4.89, 8.0),
    "Ca Hcitrate": (2.86, 0.0),
    "Mg Hcitrate": (2.60, 0.0),
    "Ca H2citrate": (1.10, 0.0),
    "Mg H2citrate": (1.31, 0.0),
    "Ca acetate": (1.18, 4.0),
    "Mg acetate": (1.27, 0.0),
    "CaOH": (-12.78, 64.1),
    "MgOH": (-11.44, 66.74),
}
"""Metal and ligand as written; of hydroxides: metal + H2O = pair + H+ (enthalpy of CaOH+ from memory)."""

Dissociation = tuple[float, float, float]
"""pK at 25 deg C, its enthalpy in kJ/mol and its heat capacity in J/mol/K."""

_PAIR_LINES = tuple((name, log_k * LN10, 1000.0 * kj / GAS_J_MOL_K) for name, (log_k, kj) in PAIRS.items())

PHOSPHORIC: tuple[Dissociation, ...] = (
    (2.148, -8.0, -141.0),
    (7.198, 3.6, -230.0),
    (12.346, 14.77, 0.0),
)
CITRIC: tuple[Dissociation, ...] = ((3.128, 4.07, -131.0), (4.761, 2.23, -178.0), (6.396, -3.38, -254.0))
ACETIC: tuple[Dissociation, ...] = ((4.757, -0.41, -142.0),)
"""Each proton, the first to leave first. The third of phosphoric acid is that of the PHREEQC database, to
which the pairs of PO4-3 belong: what was measured is the proton that such a pair sets free.
"""


class Equilibria:
    """Constants at one temperature and zero ionic strength; `log_k_...` are base 10, the others plain.

    `phosphate` and `citrate` hold cumulated constants per bare ligand: one, two and three protons; Ca with
    none, one and two protons; Mg likewise. `carbonate`: one and two protons; Ca with none and one; Mg.
    """

    __slots__ = (
        "acetate",
        "ammonium",
        "carbonate",
        "citrate",
        "davies_a",
        "henry",
        "hydrolysis",
        "k1",
        "k2",
        "kelvin",
        "log_k_brushite",
        "log_k_calcite",
        "log_k_gypsum",
        "phosphate",
        "sodium_potassium_phosphate",
        "sulfate",
        "temperature_c",
        "water",
    )

    def __init__(self, temperature_c: float) -> None:
        t = temperature_c + KELVIN
        log_t = math.log10(t)
        far = 1.0 / t - 1.0 / REFERENCE_K
        k = {name: math.exp(ln_k - slope * far) for name, ln_k, slope in _PAIR_LINES}
        self.temperature_c = temperature_c
        self.kelvin = t
        self.davies_a = 0.5100 + 8.2e-4 * (temperature_c - 25.0)
        self.water = 10.0 ** (
            293.29227 + 0.1360833 * t - 10576.913 / t - 123.73158 * log_t - 6.996455e-5 * t * t
        )
        self.k1 = 10.0 ** (-356.3094 - 0.06091964 * t + 21834.37 / t + 126.8339 * log_t - 1684915.0 / (t * t))
        self.k2 = 10.0 ** (-107.8871 - 0.03252849 * t + 5151.79 / t + 38.92561 * log_t - 563713.9 / (t * t))
        self.henry = 10.0 ** (108.3865 + 0.01985076 * t - 6919.53 / t - 40.45154 * log_t + 669365.0 / (t * t))
        self.ammonium = 10.0 ** (0.6322 - 0.001225 * t - 2835.76 / t)
        self.hydrolysis = (k["CaOH"], k["MgOH"])
        self.log_k_calcite = -171.9065 - 0.077993 * t + 2839.319 / t + 71.595 * log_t
        self.log_k_gypsum = 68.2401 - 3221.51 / t - 25.0627 * log_t
        self.log_k_brushite = -6.59
        self.carbonate = _carbonate(1.0 / self.k2, 1.0 / (self.k1 * self.k2), t, log_t)
        hso4 = 10.0 ** (-56.889 + 0.006473 * t + 2307.9 / t + 19.8858 * log_t)
        self.sulfate = (hso4, k["CaSO4"], k["MgSO4"], k["NaSO4"], k["KSO4"], k["NH4SO4"])
        one, two, three = _cumulated(PHOSPHORIC, t)
        self.phosphate = (
            *(one, two, three),
            *(k["CaPO4"], k["CaHPO4"] * one, k["CaH2PO4"] * two),
            *(k["MgPO4"], k["MgHPO4"] * one, k["MgH2PO4"] * two),
        )
        self.sodium_potassium_phosphate = (k["NaHPO4"] * one, k["KHPO4"] * one)
        one, two, three = _cumulated(CITRIC, t)
        self.citrate = (
            *(one, two, three),
            *(k["Ca citrate"], k["Ca Hcitrate"] * one, k["Ca H2citrate"] * two),
            *(k["Mg citrate"], k["Mg Hcitrate"] * one, k["Mg H2citrate"] * two),
        )
        (one,) = _cumulated(ACETIC, t)
        self.acetate = (one, k["Ca acetate"], k["Mg acetate"])


def _carbonate(once: float, twice: float, t: float, log_t: float) -> tuple[float, ...]:
    """Return the constants of carbonate; the pairs by the expressions of the PHREEQC database."""
    ca_co3 = -1228.732 - 0.299440 * t + 35512.75 / t + 485.818 * log_t
    ca_hco3 = 1317.0071 + 0.34546894 * t - 39916.84 / t - 517.70761 * log_t + 563713.9 / (t * t)
    mg_co3 = 0.9910 + 0.00667 * t
    mg_hco3 = 48.6721 + 0.03252849 * t - 2614.335 / t - 18.00263 * log_t + 563713.9 / (t * t)
    return once, twice, 10.0**ca_co3, 10.0**ca_hco3, 10.0**mg_co3, 10.0**mg_hco3


def _cumulated(steps: tuple[Dissociation, ...], kelvin: float) -> list[float]:
    """Return cumulated association constants, the strongest bound proton first."""
    far = 1.0 / kelvin - 1.0 / REFERENCE_K
    bend = REFERENCE_K / kelvin - 1.0 + math.log(kelvin / REFERENCE_K)
    cumulated: list[float] = []
    log_beta = 0.0
    for pk, enthalpy_kj, capacity_j in reversed(steps):
        log_beta += pk + (enthalpy_kj * 1000.0 * far - capacity_j * bend) / (GAS_J_MOL_K * LN10)
        cumulated.append(10.0**log_beta)
    return cumulated


@lru_cache(maxsize=1024)
def _at_hundredths(hundredths: int) -> Equilibria:
    return Equilibria(hundredths * 0.01)


def equilibria_at(temperature_c: float) -> Equilibria:
    """Return the constants at a temperature rounded to 0.01 K, which moves pH by less than 0.0003."""
    return _at_hundredths(round(temperature_c * 100.0))
