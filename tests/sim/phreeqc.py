"""PHREEQC (USGS) by way of phreeqpython: one water in; pH, conductivity, saturation out. For tests only.

Valences are given one by one (N(5), S(6), C(4)) and nothing is left to react, so that PHREEQC's redox cannot
turn nitrate and ammonium into nitrogen. Its phreeqc.dat holds no citric acid: it is added here with the
constants of NIST 46 / Goldberg et al. 2002 and PHREEQC's own Davies activities (no -gamma line).
"""

from phreeqpython import PhreeqPython

ELEMENT = {
    "Na": "Na",
    "K": "K",
    "Ca": "Ca",
    "Mg": "Mg",
    "Cl": "Cl",
    "NO3": "N(5)",
    "NH4": "N(-3)",
    "SO4": "S(6)",
    "carbonate": "C(4)",
    "phosphate": "P",
    "citrate": "Cit",
}
CITRIC_ACID = """
SOLUTION_MASTER_SPECIES
Cit Cit-3 0 189.1 189.1
SOLUTION_SPECIES
Cit-3 = Cit-3
log_k 0
Cit-3 + H+ = CitH-2
log_k 6.396
delta_h 3.38 kJ
Cit-3 + 2H+ = CitH2-
log_k 11.157
delta_h 1.15 kJ
Cit-3 + 3H+ = CitH3
log_k 14.285
delta_h -2.92 kJ
Ca+2 + Cit-3 = CaCit-
log_k 4.87
Mg+2 + Cit-3 = MgCit-
log_k 4.89
Ca+2 + Cit-3 + H+ = CaCitH
log_k 9.256
Mg+2 + Cit-3 + H+ = MgCitH
log_k 8.996
END
"""


class Phreeqc:
    """One engine; `water` solves a solution whose pH is set by charge balance."""

    def __init__(self):
        self.engine = PhreeqPython(database="phreeqc.dat")
        self.engine.ip.run_string(CITRIC_ACID)
        self.number = 100

    def water(self, totals_mmol_per_kg, temperature_c, log_co2_atm=None):
        """Return (pH, conductivity in uS/cm at temperature, saturation index by phase)."""
        self.number += 1
        lines = [f"SOLUTION {self.number}", f"temp {temperature_c}", "units mmol/kgw", "pH 7 charge"]
        for name, amount in totals_mmol_per_kg.items():
            if amount > 0.0 and not (name == "carbonate" and log_co2_atm is not None):
                lines.append(f"{ELEMENT[name]} {amount}")
        if log_co2_atm is not None:
            lines.append(f"C(4) 1 CO2(g) {log_co2_atm}")
        ip = self.engine.ip
        ip.run_string("\n".join([*lines, "END"]))
        phases = {"calcite": "Calcite", "gypsum": "Gypsum"}
        saturation = {ours: ip.get_si(self.number, theirs) for ours, theirs in phases.items()}
        return ip.get_ph(self.number), ip.get_sc(self.number), saturation
