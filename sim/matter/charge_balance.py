"""Charge balance of one parcel of water: the solver with a memory.

Solved together: strong ions, carbonate (closed, or held by the air), phosphate, citrate, sulfate, acetate,
ammonium and humic-like sites, with Ca and Mg pairs and Davies activities. Mol/kg is taken as mol/L. The sums
over one ligand live in `ligands.py`, constants in `equilibria.py`; what is asked of the answer elsewhere.

Limits: ionic strength up to about 0.5 mol/kg, 0-60 deg C, no redox, nothing precipitates by itself.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from sim.matter import ligands
from sim.matter.equilibria import LN10, equilibria_at
from sim.matter.first_guess import guess_free, guess_ionic_strength, guess_ph
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
    TOTALS,
    K,
)
from sim.matter.ligands import Sums
from sim.matter.newton import newton_step

_TOLERANCE = 1e-4
"""Last step (ln of an activity), last change of ionic strength and sulfate; pH is right within 1e-5."""
_FAR = 2.0
"""First step (ln of an activity) that says that the last water is no start for this one."""
_TRACE_MMOL = 1e-9
"""Less of anything than this, per kg, counts as nothing."""
_MAX_ROUNDS = 200
_LONGEST_STEP = 2.5
_STRONGEST = 0.5
"""Ionic strength above which activities stay what they are, mol/kg."""


class WaterSolver:
    """Charge-balance solver with a memory. After `find_ph` its attributes describe that water.

    `ca`, `mg`, `na`, `k`, `nh4` and the bare ligands are activities (mol/kg), `lift1` to `lift3` what turns
    the activity of a charge of 1 to 3 into a concentration; `co2` and `carbonate` are mol/kg.
    """

    __slots__ = (
        "_next_strength",
        "acetate",
        "at",
        "ca",
        "carbonate",
        "carbonate_ion",
        "citrate",
        "co2",
        "co2_atm",
        "ionic_strength",
        "k",
        "lift1",
        "lift2",
        "lift3",
        "mg",
        "na",
        "nh4",
        "ph",
        "phosphate",
        "rounds",
        "sulfate",
        "totals",
    )

    def __init__(self) -> None:
        self.at = equilibria_at(25.0)
        self.totals = [0.0] * len(TOTALS)
        self.ph: float = 7.0
        self.ionic_strength = self._next_strength = 0.0
        self.lift1 = self.lift2 = self.lift3 = 1.0
        self.ca = self.mg = self.na = self.k = self.nh4 = 0.0
        self.carbonate_ion = self.sulfate = self.phosphate = self.citrate = self.acetate = 0.0
        self.co2 = self.carbonate = 0.0
        self.co2_atm: float | None = None
        self.rounds = 0

    def find_ph(
        self, totals_mmol_per_kg: Sequence[float], temperature_c: float, co2_atm: float | None = None
    ) -> float:
        """Return the pH of a water given in the order of `TOTALS`.

        Newton on charge, Ca and Mg in logarithms; the ionic strength and the weak pairs of Na, K and NH4
        follow along. `co2_atm` opens it to the air.
        Raises ArithmeticError if it does not settle, which no physical water makes it do.
        """
        self.at = equilibria_at(temperature_c)
        self.totals = [
            amount * 1e-3 if amount > _TRACE_MMOL else 0.0 for amount in totals_mmol_per_kg[: len(TOTALS)]
        ]
        self.co2_atm = co2_atm
        log_h = -self.ph * LN10 if self.rounds else self._start_afresh()
        self.ca, self.mg = guess_free(self.ca, self.totals[CA]), guess_free(self.mg, self.totals[MG])
        for rounds in range(1, _MAX_ROUNDS):
            self._weigh_activities()
            h, sulfate = math.exp(log_h), self.sulfate
            step, moved = self._step(self._balance(h))
            if moved > _FAR and rounds == 1 and self.rounds:
                log_h = self._start_afresh()
                continue
            log_h = min(max(log_h + step, -36.0), 4.0)
            drift = max(abs(self._next_strength - self.ionic_strength), abs(self.sulfate - sulfate))
            self.ionic_strength = self._next_strength
            if moved < _TOLERANCE and drift <= _TOLERANCE * self.ionic_strength:
                self.rounds = rounds
                return self._keep(log_h, h)
        raise ArithmeticError("charge balance of the simulated water did not settle")

    def _keep(self, log_h: float, h: float) -> float:
        """Keep what the last round found with `h`; return pH."""
        self.ph = -log_h / LN10
        forms = ligands.carbonate_forms(self.at.carbonate, (h, self.ca, self.mg), self.lift1)
        self.co2 = forms[2] * self.carbonate_ion
        self.carbonate = self.totals[CARBONATE] if self.co2_atm is None else sum(forms) * self.carbonate_ion
        return self.ph

    def _start_afresh(self) -> float:
        """Begin a search that has nothing to go on; return ln of the proton activity."""
        totals = self.totals
        self.ca, self.mg = 0.5 * totals[CA], 0.5 * totals[MG]
        self.ionic_strength = guess_ionic_strength(totals)
        self.sulfate = self.phosphate = 0.0
        return -LN10 * guess_ph(totals, self.co2_atm)

    def _weigh_activities(self) -> None:
        """Set 1/gamma of every charge from the ionic strength (Davies)."""
        strength = min(self.ionic_strength, _STRONGEST)
        root = math.sqrt(strength)
        self.lift1 = lift = math.pow(10.0, self.at.davies_a * (root / (1.0 + root) - 0.3 * strength))
        self.lift2 = lift2 = lift * lift * lift * lift
        self.lift3 = lift2 * lift2 * lift

    def _balance(self, h: float) -> Sums:
        """Return charge, bound metals and all their slopes at proton activity `h`.

        Charge counts Ca and Mg whole, whether free or paired, so that they act on it only through protons.
        """
        ca, mg = self.ca, self.mg
        ca_oh, mg_oh = self.at.hydrolysis
        u, w = ca * ca_oh / h * self.lift1, mg * mg_oh / h * self.lift1
        single, charge, hh = self._single_ions(h)
        charge -= u + w
        hh += u + w
        hu, hw, uu, ww, uw = -u, -w, u, w, 0.0
        squares = single + u + w + 4.0 * self.lift2 * (ca + mg)
        for _, a, b, c, d, e, f, g, i, j, k in self._ligands(h):
            charge += a
            hh += b
            hu += c
            hw += d
            u += e
            w += f
            uu += g
            ww += i
            uw += j
            squares += k
        self._next_strength = 0.5 * squares
        return 0.0, charge, hh, hu, hw, u, w, uu, ww, uw, squares

    def _single_ions(self, h: float) -> tuple[float, float, float]:
        """Return sum of concentrations, charge and its slope of the ions of one charge and the humic sites.

        Sets the activities of Na, K and NH4, whose pairs are those of the round before.
        """
        t, at, lift1 = self.totals, self.at, self.lift1
        proton, hydroxide = h * lift1, at.water / h * lift1
        paired = self.sulfate * lift1
        _, _, _, na_so4, k_so4, nh4_so4 = at.sulfate
        na_hpo4, k_hpo4 = at.sodium_potassium_phosphate
        hpo4 = self.phosphate * h * lift1
        self.na = t[NA] / (lift1 + na_so4 * paired + na_hpo4 * hpo4)
        self.k = t[K] / (lift1 + k_so4 * paired + k_hpo4 * hpo4)
        ammonia = at.ammonium / h
        whole = lift1 + ammonia + nh4_so4 * paired
        self.nh4 = nh4 = t[NH4] / whole
        base = t[BASE]
        acid = t[CL] + t[NO3] + t[ACID]
        charge = t[NA] + t[K] + base - acid + 2.0 * (t[CA] + t[MG]) + t[NH4] - nh4 * ammonia
        charge += proton - hydroxide
        hh = proton + hydroxide + nh4 * ammonia * (1.0 - ammonia / whole)
        single = (self.na + self.k + nh4) * lift1 + base + acid + proton + hydroxide
        if t[HUMATE]:
            lost, slope = ligands.humate(t[HUMATE], h / lift1)
            return single + lost, charge - lost, hh + slope
        return single, charge, hh

    def _ligands(self, h: float) -> list[Sums]:
        """Return the sums of every ligand there is and keep its bare activity."""
        t, at, lift1 = self.totals, self.at, self.lift1
        ions = (h, self.ca, self.mg)
        lifts = (lift1, self.lift2, self.lift3)
        found = []
        self.carbonate_ion = self.sulfate = self.phosphate = self.citrate = self.acetate = 0.0
        if self.co2_atm is not None:
            sums = ligands.held_carbonate(at.henry * self.co2_atm, at.carbonate, ions, lift1)
            found.append(sums)
            self.carbonate_ion = sums[0]
        elif t[CARBONATE]:
            sums = ligands.carbonate(t[CARBONATE], at.carbonate, ions, lift1)
            found.append(sums)
            self.carbonate_ion = sums[0]
        if t[SO4]:
            sums = ligands.sulfate(t[SO4], at.sulfate, (*ions, self.na, self.k, self.nh4), lift1)
            found.append(sums)
            self.sulfate = sums[0]
        if t[PHOSPHATE]:
            na_hpo4, k_hpo4 = at.sodium_potassium_phosphate
            weak = na_hpo4 * self.na + k_hpo4 * self.k
            sums = ligands.three_protons(t[PHOSPHATE], at.phosphate, ions, weak, lifts)
            found.append(sums)
            self.phosphate = sums[0]
        if t[CITRATE]:
            sums = ligands.three_protons(t[CITRATE], at.citrate, ions, 0.0, lifts)
            found.append(sums)
            self.citrate = sums[0]
        if t[ACETATE]:
            sums = ligands.acetate(t[ACETATE], at.acetate, *ions, lift1)
            found.append(sums)
            self.acetate = sums[0]
        return found

    def _step(self, sums: Sums) -> tuple[float, float]:
        """Take one Newton step of charge and metals together; return (step of ln h, largest move)."""
        totals, lift2 = self.totals, self.lift2
        ca, mg = self.ca * lift2, self.mg * lift2
        step, step_u, step_w = newton_step(sums, (ca, totals[CA]), (mg, totals[MG]))
        largest = max(abs(step), abs(step_u), abs(step_w))
        damping = 1.0 if largest <= _LONGEST_STEP else _LONGEST_STEP / largest
        grown_ca, grown_mg = math.exp(step_u * damping), math.exp(step_w * damping)
        self.ca *= grown_ca
        self.mg *= grown_mg
        self._next_strength += 2.0 * (ca * (grown_ca - 1.0) + mg * (grown_mg - 1.0))
        return step * damping, largest
