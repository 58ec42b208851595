"""PHREEQC (USGS) by way of phreeqpython: one water in; pH, conductivity, saturation out. For tests only.

Nothing is left to react by redox: valences are given one by one (S(6), C(4)), and nitrogen is two elements,
N(5) and `Amm`, the redox-free ammonium whose lines phreeqc.dat carries as comments.

What is added to its phreeqc.dat or put right in it, and why:
- citric and acetic acid, which it lacks, with the constants of NIST 46 / Goldberg et al. 2002 and PHREEQC's
  own Davies activities (no -gamma line). Their diffusion coefficients are those of the limiting
  conductivities 70.2, 50, 30 (citrate, from memory) and 40.9 (acetate, CRC Handbook) S cm2 per equivalent.
- NaCO3-: its old constant of 1.27 gives the primary carbonate buffer pH 9.867 instead of 10.012 (NBS 1969);
  PHREEQC 3.8.9 gives 10.024. The pair is put out of the way.
- diffusion coefficients of pairs that have none, so that they conduct at all: that of an ion of
  20 S cm2/mol.
- brushite, which it lacks: pKsp 6.59 (Gregory, Moreno et al. 1970, as quoted in reviews).
"""

import math
from dataclasses import dataclass

from phreeqpython import PhreeqPython

ELEMENT = {
    "Na": "Na",
    "K": "K",
    "Ca": "Ca",
    "Mg": "Mg",
    "Cl": "Cl",
    "NO3": "N(5)",
    "NH4": "Amm",
    "SO4": "S(6)",
    "carbonate": "C(4)",
    "phosphate": "P",
    "citrate": "Cit",
    "acetate": "Ace",
    "strong_acid": "Cl",
    "strong_base": "Na",
}
ADDED = """
SOLUTION_MASTER_SPECIES
Cit Cit-3 0 189.1 189.1
Ace Ace- 0 59.0 59.0
Amm AmmH+ 0 AmmH 17.0
SOLUTION_SPECIES
AmmH+ = AmmH+
-gamma 2.5 0
-dw 1.98e-9
AmmH+ = Amm + H+
-log_k -9.252
-analytic 0.6322 -0.001225 -2835.76
AmmH+ + SO4-2 = AmmHSO4-
log_k 1.11
{organic}
Na+ + CO3-2 = NaCO3-
log_k -10
delta_h 0
{pairs}
PHASES
Brushite
CaHPO4:2H2O = Ca+2 + HPO4-2 + 2H2O
log_k -6.59
END
"""
CITRATE_PK = ((6.396, -3.38, -254.0), (4.761, 2.23, -178.0), (3.128, 4.07, -131.0))
ACETATE_PK = ((4.757, -0.41, -142.0),)
"""pK, enthalpy (kJ/mol), heat capacity (J/mol/K) of dissociation, the last proton first (Goldberg 2002)."""
ORGANIC_PAIRS = (
    ("CaCit-", "Ca+2 + Cit-3", 4.87, -8.0, 0),
    ("MgCit-", "Mg+2 + Cit-3", 4.89, 8.0, 0),
    ("CaCitH", "Ca+2 + Cit-3 + H+", 2.86, 0.0, 1),
    ("MgCitH", "Mg+2 + Cit-3 + H+", 2.60, 0.0, 1),
    ("CaCitH2+", "Ca+2 + Cit-3 + 2H+", 1.10, 0.0, 2),
    ("MgCitH2+", "Mg+2 + Cit-3 + 2H+", 1.31, 0.0, 2),
    ("CaAce+", "Ca+2 + Ace-", 1.18, 4.0, 0),
    ("MgAce+", "Mg+2 + Ace-", 1.27, 0.0, 0),
)
"""Name, reaction, log K and enthalpy (kJ/mol) with the form that has so many protons (NIST 46)."""
DIFFUSION = {"Cit-3": 0.623, "CitH-2": 0.665, "CitH2-": 0.798, "Ace-": 1.088}
"""1e-9 m2/s."""
PAIR_DIFFUSION = 0.532
LAME_PAIRS = (
    ("Ca+2 + PO4-3 = CaPO4-", 6.459, 12.97, 5.4),
    ("Mg+2 + PO4-3 = MgPO4-", 6.589, 12.97, 5.4),
    ("Ca+2 + H2PO4- = CaH2PO4+", 1.408, 14.23, 5.4),
    ("Mg+2 + H2PO4- = MgH2PO4+", 1.513, 14.23, 5.4),
    ("Na+ + HPO4-2 = NaHPO4-", 0.29, 0.0, 5.4),
    ("K+ + HPO4-2 = KHPO4-", 0.29, 0.0, 5.4),
    ("Mg+2 + H2O = MgOH+ + H+", -11.44, 66.74, 6.5),
    ("Ca+2 + H2O = CaOH+ + H+", -12.78, 0.0, None),
)
"""As in phreeqc.dat: reaction, log K, enthalpy (kJ/mol), ion size; here they get a diffusion coefficient."""
R_LN10 = 8.314462618 * math.log(10.0)
PHASES = {"calcite": "Calcite", "gypsum": "Gypsum", "brushite": "Brushite"}


@dataclass(frozen=True)
class Water:
    """What PHREEQC says of one water."""

    ph: float
    conductivity_us_cm: float
    ionic_strength: float
    saturation: dict[str, float]


class Phreeqc:
    """One engine; `water` solves a solution whose pH is set by charge balance."""

    def __init__(self):
        self.engine = PhreeqPython(database="phreeqc.dat")
        self.engine.ip.run_string(ADDED.format(organic=_organic(), pairs=_pairs()))

    def water(self, totals_mmol_per_kg, temperature_c, log_co2_atm=None):
        """Solve one water, closed or held in equilibrium with air."""
        lines = ["SOLUTION 1", f"temp {temperature_c}", "units mmol/kgw", "pH 7 charge"]
        for element, amount in by_element(totals_mmol_per_kg).items():
            if amount > 0.0 and not (element == "C(4)" and log_co2_atm is not None):
                lines.append(f"{element} {amount}")
        if log_co2_atm is not None:
            lines.append(f"C(4) 1 CO2(g) {log_co2_atm}")
        self.engine.ip.run_string("\n".join([*lines, "END"]))
        return self._found(1)

    def at_rest_with(self, mineral, totals_mmol_per_kg, temperature_c):
        """Return a closed water that dropped a mineral down to saturation, and the calcium lost, mmol/kg."""
        self.water(totals_mmol_per_kg, temperature_c)
        self.engine.ip.run_string(
            f"USE solution 1\nEQUILIBRIUM_PHASES 1\n{PHASES[mineral]} 0 0\nSAVE solution 2\nEND"
        )
        left_mmol = 1e3 * self.engine.ip.get_total(2, "Ca") / self.engine.ip.get_mass(2)
        return self._found(2), totals_mmol_per_kg["Ca"] - left_mmol

    def after_calcite(self, totals_mmol_per_kg, temperature_c, mmol, cm2_mmol, seconds):
        """Return calcium, mmol/kg, after so many mmol/kg of calcite have reacted by PHREEQC's own rate."""
        self.water(totals_mmol_per_kg, temperature_c)
        self.engine.ip.run_string(
            f"USE solution 1\nKINETICS 1\nCalcite\n-m0 {mmol * 1e-3}\n-m {mmol * 1e-3}\n"
            f"-parms {cm2_mmol * 1e3} 1.0\n-tol 1e-9\n-steps {seconds}\nSAVE solution 2\nEND"
        )
        return 1e3 * self.engine.ip.get_total(2, "Ca") / self.engine.ip.get_mass(2)

    def _found(self, number):
        ip = self.engine.ip
        return Water(
            ip.get_ph(number),
            ip.get_sc(number),
            ip.get_mu(number),
            {ours: ip.get_si(number, theirs) for ours, theirs in PHASES.items()},
        )


def by_element(totals_mmol_per_kg):
    """Return the totals under PHREEQC's names; acid counts as chloride, base as sodium."""
    amounts = {}
    for name, amount in totals_mmol_per_kg.items():
        amounts[ELEMENT[name]] = amounts.get(ELEMENT[name], 0.0) + amount
    return amounts


def _organic():
    """Return the lines of citric and acetic acid and their pairs."""
    lines = []
    betas = {}
    for bare, charge, steps in (("Cit", -3, CITRATE_PK), ("Ace", -1, ACETATE_PK)):
        ion = f"{bare}{_sign(charge)}"
        lines += [f"{ion} = {ion}", "log_k 0", *_diffusing(ion)]
        beta = (0.0, 0.0, 0.0)
        betas[bare, 0] = beta
        for protons, step in enumerate(steps, 1):
            beta = tuple(a + b for a, b in zip(beta, _expression(*step), strict=True))
            betas[bare, protons] = beta
            name = f"{bare}H{protons if protons > 1 else ''}{_sign(charge + protons)}"
            lines += [f"{ion} + {protons}H+ = {name}", _analytic(beta), *_diffusing(name)]
    for name, reaction, log_k, enthalpy_kj, protons in ORGANIC_PAIRS:
        slope = -enthalpy_kj * 1000.0 / R_LN10
        own = (log_k - slope / 298.15, slope, 0.0)
        beta = betas["Cit" if "Cit" in name else "Ace", protons]
        lines += [f"{reaction} = {name}", _analytic(a + b for a, b in zip(beta, own, strict=True))]
        if name[-1] in "+-":
            lines.append(f"-dw {PAIR_DIFFUSION}e-9")
    return "\n".join(lines)


def _expression(pk, enthalpy_kj, capacity_j):
    """Return log K of association as a + b/T + c log10 T, from its value, slope and bend at 25 deg C."""
    c = -capacity_j / 8.314462618
    b = (enthalpy_kj * 1000.0 - capacity_j * 298.15) / R_LN10
    return pk - b / 298.15 - c * math.log10(298.15), b, c


def _analytic(terms):
    a, b, c = terms
    return f"-analytic {a:.8f} 0 {b:.6f} {c:.8f}"


def _sign(charge):
    return "" if charge == 0 else f"{'+' if charge > 0 else '-'}{abs(charge) if abs(charge) > 1 else ''}"


def _diffusing(name):
    return [f"-dw {DIFFUSION[name]}e-9"] if name in DIFFUSION else []


def _pairs():
    """Return the pairs of phreeqc.dat that conduct nothing there."""
    lines = []
    for reaction, log_k, enthalpy_kj, size in LAME_PAIRS:
        lines += [reaction, f"log_k {log_k}", f"delta_h {enthalpy_kj} kJ", f"-dw {PAIR_DIFFUSION}e-9"]
        if size:
            lines.append(f"-gamma {size} 0")
    return "\n".join(lines)
