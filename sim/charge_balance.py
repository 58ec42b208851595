"""Charge balance of one parcel of water: the solver with a memory.

Solved together: strong ions, carbonate (closed, or held by the air), phosphate, citrate, sulfate, acetate,
ammonium and humic-like sites, with Ca and Mg pairs and Davies activities. Mol/kg is taken as mol/L. What is
asked of the answer lives in `water.py`, `conductivity.py` and `saturation.py`; constants in
`equilibria.py`.

Limits: ionic strength up to about 0.5 mol/kg, 0-60 deg C, no redox, nothing precipitates by itself.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from sim.equilibria import LN10, Conditional, Equilibria
from sim.ions import (
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

_TOLERANCE = 1e-7
_MAX_ROUNDS = 200
_LONGEST_STEP = 2.5

Triple = tuple[float, float, float]


class WaterSolver:
    """Charge-balance solver with a memory. After `find_ph` its attributes describe that water (mol/kg)."""

    __slots__ = (
        "at",
        "bound_ca",
        "bound_mg",
        "ca",
        "carbonate",
        "charge",
        "co2",
        "co2_atm",
        "conditional",
        "conditional_strength",
        "hh",
        "hu",
        "hw",
        "ionic_strength",
        "mg",
        "ph",
        "squares",
        "totals",
        "uu",
        "uw",
        "ww",
    )

    def __init__(self) -> None:
        self.at = Equilibria(25.0)
        self.conditional = Conditional(self.at, 0.0)
        self.conditional_strength = 0.0
        self.totals = [0.0] * len(TOTALS)
        self.ph: float = 7.0
        self.ionic_strength = 0.0
        self.ca = self.mg = 0.0
        self.co2 = self.carbonate = 0.0
        self.co2_atm: float | None = None
        self.charge = self.squares = self.bound_ca = self.bound_mg = 0.0
        self.hh = self.hu = self.hw = self.uu = self.uw = self.ww = 0.0

    def find_ph(
        self, totals_mmol_per_kg: Sequence[float], temperature_c: float, co2_atm: float | None = None
    ) -> float:
        """Return the pH of a water given in the order of `TOTALS`.

        Newton on charge, Ca and Mg in logarithms; the ionic strength follows along. `co2_atm` opens it to
        the air.
        Raises ArithmeticError if it does not settle, which no physical water makes it do.
        """
        if abs(temperature_c - self.at.temperature_c) > 0.02:
            self.at = Equilibria(temperature_c)
            self.conditional_strength = -1.0
        self.totals = totals = [amount * 1e-3 for amount in totals_mmol_per_kg[: len(TOTALS)]]
        self.co2_atm = co2_atm
        self.ca = _start(self.ca, totals[CA])
        self.mg = _start(self.mg, totals[MG])
        log_h = -self.ph * LN10
        for _ in range(_MAX_ROUNDS):
            self._refresh_constants()
            self._balance(math.exp(log_h))
            log_h, moved = self._take_step(log_h)
            strength = 0.5 * self.squares
            drift = abs(strength - self.ionic_strength)
            self.ionic_strength = strength
            if moved < _TOLERANCE and drift <= 1e-5 * strength:
                self.ph = -log_h / LN10
                return self.ph
        raise ArithmeticError("charge balance of the simulated water did not settle")

    def free_sulfate(self, h: float) -> float:
        """Return SO4-2 that is neither protonated nor paired, mol/kg; `h` is the activity of the proton."""
        use = self.conditional
        return self.totals[SO4] / (
            1.0 + use.sulfate1 * h + self.ca * use.ca_sulfate + self.mg * use.mg_sulfate
        )

    def free_phosphate(self, h: float) -> float:
        """Return bare PO4-3, mol/kg."""
        use = self.conditional
        return self._bare(self.totals[PHOSPHATE], use.phosphate, use.ca_phosphate, use.mg_phosphate, h)

    def free_citrate(self, h: float) -> float:
        """Return bare citrate-3, mol/kg."""
        use = self.conditional
        return self._bare(self.totals[CITRATE], use.citrate, use.ca_citrate, use.mg_citrate, h)

    def _bare(self, total: float, acid: Triple, ca_pairs: Triple, mg_pairs: Triple, h: float) -> float:
        pairs = self.ca * _cubic(ca_pairs, h) + self.mg * _cubic(mg_pairs, h)
        return total / (1.0 + h * _cubic(acid, h) + pairs)

    def _refresh_constants(self) -> None:
        """Follow the ionic strength where it has moved enough to matter (pH within 1e-5)."""
        if abs(self.ionic_strength - self.conditional_strength) > 1e-4 * self.ionic_strength:
            self.conditional = Conditional(self.at, self.ionic_strength)
            self.conditional_strength = self.ionic_strength

    def _take_step(self, log_h: float) -> tuple[float, float]:
        """Take one Newton step of charge and metals together; return (ln of proton activity, largest move).

        The Jacobian is symmetric and positive: all three balances are slopes of one convex function.
        """
        hh, hu, hw, uw = self.hh, self.hu, self.hw, self.uw
        miss_u = miss_w = 0.0
        uu = ww = 1.0
        if self.totals[CA] > 0.0:
            uu = self.ca + self.uu
            miss_u = self.totals[CA] - self.ca - self.bound_ca
        if self.totals[MG] > 0.0:
            ww = self.mg + self.ww
            miss_w = self.totals[MG] - self.mg - self.bound_mg
        minor = uu * ww - uw * uw
        pull_u = (hu * ww - hw * uw) / minor
        pull_w = (hw * uu - hu * uw) / minor
        step = (-self.charge - pull_u * miss_u - pull_w * miss_w) / (hh - pull_u * hu - pull_w * hw)
        left_u = miss_u - hu * step
        left_w = miss_w - hw * step
        step_u = (left_u * ww - left_w * uw) / minor
        step_w = (left_w * uu - left_u * uw) / minor
        largest = max(abs(step), abs(step_u), abs(step_w))
        damping = 1.0 if largest <= _LONGEST_STEP else _LONGEST_STEP / largest
        self.ca *= math.exp(step_u * damping)
        self.mg *= math.exp(step_w * damping)
        return min(max(log_h + step * damping, -36.0), 4.0), largest

    def _balance(self, h: float) -> None:
        """Set charge, ionic squares, bound metals and all their slopes at proton activity `h`.

        Charge counts Ca and Mg whole, whether free or paired, so that they act on it only through protons.
        """
        t, use = self.totals, self.conditional
        proton = h / use.gamma1
        hydroxide = use.hydroxide / h
        ammonium = t[NH4] * h / (h + use.ammonia)
        single = t[NA] + t[K] + t[BASE]
        acid = t[CL] + t[NO3] + t[ACID]
        self.charge = single - acid + 2.0 * (t[CA] + t[MG]) + ammonium + proton - hydroxide
        self.hh = proton + hydroxide + (ammonium * (1.0 - ammonium / t[NH4]) if t[NH4] else 0.0)
        self.squares = single + acid + 4.0 * (self.ca + self.mg) + ammonium + proton + hydroxide
        self.bound_ca = self.bound_mg = 0.0
        self.hu = self.hw = self.uu = self.uw = self.ww = 0.0
        self._add_carbonate(h)
        if t[SO4]:
            pairs = (use.ca_sulfate, 0.0, 0.0), (use.mg_sulfate, 0.0, 0.0)
            self._add(t[SO4], -2.0, (use.sulfate1, 0.0, 0.0), *pairs, h)
        if t[PHOSPHATE]:
            self._add(t[PHOSPHATE], -3.0, use.phosphate, use.ca_phosphate, use.mg_phosphate, h)
        if t[CITRATE]:
            self._add(t[CITRATE], -3.0, use.citrate, use.ca_citrate, use.mg_citrate, h)
        if t[ACETATE]:
            pairs = (use.ca_acetate, 0.0, 0.0), (use.mg_acetate, 0.0, 0.0)
            self._add(t[ACETATE], -1.0, (use.acetate1, 0.0, 0.0), *pairs, h)
        if t[HUMATE]:
            self._add_humate(h)

    def _add_carbonate(self, h: float) -> None:
        """Add carbonate: its total is kept (closed) or follows from the CO2 that the air holds (open)."""
        use = self.conditional
        acid = (use.carbonate1, use.carbonate2, 0.0)
        if self.co2_atm is None:
            self.carbonate = total = self.totals[CARBONATE]
            bare = self._add(total, -2.0, acid, use.ca_carbonate, use.mg_carbonate, h) if total > 0.0 else 0.0
        else:
            bare = self.at.henry * self.co2_atm / (use.carbonate2 * h * h)
            pairs = self.ca * _cubic(use.ca_carbonate, h) + self.mg * _cubic(use.mg_carbonate, h)
            self.carbonate = bare * (1.0 + h * _cubic(acid, h) + pairs)
            self._add_held_carbonate(bare, h)
        self.co2 = bare * use.carbonate2 * h * h

    def _add_held_carbonate(self, bare: float, h: float) -> None:
        """Add open carbonate: each form has its own amount, as h to the power (protons - 2)."""
        use = self.conditional
        once = use.carbonate1 * h
        ca0, ca1 = (bare * self.ca * use.ca_carbonate[0], bare * self.ca * use.ca_carbonate[1] * h)
        mg0, mg1 = (bare * self.mg * use.mg_carbonate[0], bare * self.mg * use.mg_carbonate[1] * h)
        self.charge -= 2.0 * (bare + ca0 + mg0) + bare * once + ca1 + mg1
        self.hh += 4.0 * (bare + ca0 + mg0) + bare * once + ca1 + mg1
        self.hu -= 2.0 * ca0 + ca1
        self.hw -= 2.0 * mg0 + mg1
        self.bound_ca += ca0 + ca1
        self.bound_mg += mg0 + mg1
        self.uu += ca0 + ca1
        self.ww += mg0 + mg1
        self.squares += 4.0 * bare + bare * once + ca1 + mg1

    def _add_humate(self, h: float) -> None:
        """Add humic-like sites: independent one-proton sites, no pairs."""
        sites = self.totals[HUMATE]
        gamma1 = self.conditional.gamma1
        lost = slope = 0.0
        for k, share in self.at.humic:
            dissociated = k / (k + h * gamma1)
            lost += share * dissociated
            slope += share * dissociated * (1.0 - dissociated)
        self.charge -= sites * lost
        self.hh += sites * slope
        self.squares += sites * lost

    def _add(
        self, total: float, z: float, acid: Triple, ca_pairs: Triple, mg_pairs: Triple, h: float
    ) -> float:
        """Add one ligand of bare charge `z`, its protons and its metal pairs; return the bare ligand, mol/kg.

        Slopes are covariances of the numbers of protons and metals that a ligand carries.
        """
        b1, b2, b3 = acid
        c0, c1, c2 = ca_pairs
        m0, m1, m2 = mg_pairs
        a1 = b1 * h
        h2 = h * h
        a2 = b2 * h2
        a3 = b3 * h2 * h
        ca_once = self.ca * c1 * h
        ca_twice = self.ca * c2 * h2
        mg_once = self.mg * m1 * h
        mg_twice = self.mg * m2 * h2
        ca = self.ca * c0 + ca_once + ca_twice
        mg = self.mg * m0 + mg_once + mg_twice
        whole = 1.0 / (1.0 + a1 + a2 + a3 + ca + mg)
        once = a1 + ca_once + mg_once
        twice = a2 + ca_twice + mg_twice
        k = (once + 2.0 * twice + 3.0 * a3) * whole
        kk = (once + 4.0 * twice + 9.0 * a3) * whole
        ku = (ca_once + 2.0 * ca_twice) * whole
        kw = (mg_once + 2.0 * mg_twice) * whole
        u = ca * whole
        w = mg * whole
        self.charge += total * (z + k)
        self.hh += total * (kk - k * k)
        self.hu += total * (ku - k * u)
        self.hw += total * (kw - k * w)
        self.uu += total * u * (1.0 - u)
        self.ww += total * w * (1.0 - w)
        self.uw -= total * u * w
        self.bound_ca += total * u
        self.bound_mg += total * w
        lift = k + 2.0 * (u + w)
        self.squares += total * (z * (z + 2.0 * lift) + kk + 4.0 * (ku + kw + u + w))
        return total * whole


def _start(free: float, total: float) -> float:
    """Return a first guess of a free metal: the last one if it can still be true."""
    if total <= 0.0:
        return 0.0
    return free if 0.01 * total < free < total else 0.9 * total


def _cubic(coefficients: Triple, h: float) -> float:
    """Return c0 + c1 h + c2 h2."""
    c0, c1, c2 = coefficients
    return c0 + h * (c1 + h * c2)
