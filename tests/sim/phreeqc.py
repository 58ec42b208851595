"""PHREEQC (USGS) by way of phreeqpython: one water in; pH, conductivity, saturation out. For tests only.

Nothing is left to react by redox: valences are given one by one (S(6), C(4)), and nitrogen is two elements,
N(5) and `Amm`. What the database lacks is told and added by `phreeqc_database.py`.
"""

from dataclasses import dataclass

from phreeqc_database import HUMIC, added
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
        self.engine.ip.run_string(added())

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
        if name == "humate":
            amounts |= {site: share * amount for site, (_, share) in HUMIC.items()}
        else:
            amounts[ELEMENT[name]] = amounts.get(ELEMENT[name], 0.0) + amount
    return amounts
