"""What the tests add to PHREEQC's phreeqc.dat or put right in it, and why. Nothing is solved here.

- citric and acetic acid, which it lacks, with the constants of NIST 46 / Goldberg et al. 2002 and PHREEQC's
  own Davies activities (no -gamma line). Their diffusion coefficients are those of the limiting
  conductivities 70.2, 50, 30 (citrate, from memory) and 40.9 (acetate, CRC Handbook) S cm2 per equivalent.
- NaCO3-: its old constant of 1.27 gives the primary carbonate buffer pH 9.867 instead of 10.012 (NBS 1969);
  PHREEQC 3.8.9 gives 10.024. The pair is put out of the way.
- diffusion coefficients of pairs that have none, so that they conduct at all: that of an ion of
  20 S cm2/mol.
- the terms by which later editions let diffusion follow temperature (second number of -dw, from memory): with
  them this engine reads the certified KCl standard 0.9 % low from 15 to 30 deg C, without them 4 % low to 1 %
  high (a test holds it to that).
- humic-like sites, which it lacks: eight acids without pairs.
- brushite, which it lacks: pKsp 6.59 (Gregory, Moreno et al. 1970, as quoted in reviews).
"""

import math

ADDED = """
SOLUTION_MASTER_SPECIES
Cit Cit-3 0 189.1 189.1
Ace Ace- 0 59.0 59.0
Amm AmmH+ 0 AmmH 17.0
{humic_names}
SOLUTION_SPECIES
AmmH+ = AmmH+
-gamma 2.5 0
-dw 1.98e-9 312
H+ = H+
-gamma 9.0 0
-dw 9.31e-9 1000
H2O = OH- + H+
-analytic 293.29227 0.1360833 -10576.913 -123.73158 0 -6.996455e-5
-gamma 3.5 0
-dw 5.27e-9 548
Na+ = Na+
-gamma 4.08 0.082
-dw 1.33e-9 122
K+ = K+
-gamma 3.5 0.015
-dw 1.96e-9 395
Ca+2 = Ca+2
-gamma 5.0 0.1650
-dw 0.793e-9 97
Mg+2 = Mg+2
-gamma 5.5 0.20
-dw 0.705e-9 111
Cl- = Cl-
-gamma 3.63 0.017
-dw 2.03e-9 194
NO3- = NO3-
-gamma 3.0 0
-dw 1.9e-9 184
SO4-2 = SO4-2
-gamma 5.0 -0.04
-dw 1.07e-9 34
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
{humic}
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
HUMIC = {
    "Hua": (3.05, 0.25),
    "Hub": (3.75, 0.25),
    "Huc": (4.45, 0.25),
    "Hud": (5.15, 0.25),
    "Hue": (7.0, 0.125),
    "Huf": (8.2, 0.125),
    "Hug": (9.4, 0.125),
    "Huh": (10.6, 0.125),
}
"""Classes of humic sites as elements: pK, sites per carboxyl site (spread of Model VI, Tipping 1998)."""


def _humic(part):
    """Return the lines of humic sites: each class an acid of its own."""
    if part == "master":
        return "\n".join(f"{site} {site}- 0 100 100" for site in HUMIC)
    lines = []
    for site, (pk, _) in HUMIC.items():
        lines += [f"{site}- = {site}-", "log_k 0", f"-dw {PAIR_DIFFUSION}e-9"]
        lines += [f"{site}- + H+ = {site}H", f"log_k {pk}"]
    return "\n".join(lines)


def added():
    """Return everything that is added to the database."""
    return ADDED.format(
        organic=_organic(), pairs=_pairs(), humic_names=_humic("master"), humic=_humic("species")
    )


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
