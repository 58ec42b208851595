"""One Newton step of charge, Ca and Mg at once. Plain algebra; what the sums mean is told in `ligands.py`."""

from __future__ import annotations

from sim.matter.ligands import Sums


def newton_step(sums: Sums, ca: tuple[float, float], mg: tuple[float, float]) -> tuple[float, float, float]:
    """Return the steps of ln(h), ln(free Ca), ln(free Mg); each metal is given free and in all, mol/kg.

    The Jacobian is symmetric and positive: all three balances are slopes of one convex function. A metal
    that is absent stays where it is.
    """
    _, charge, hh, hu, hw, u, w, uu, ww, uw, _ = sums
    free_ca, total_ca = ca
    free_mg, total_mg = mg
    miss_u, uu = (total_ca - free_ca - u, uu + free_ca) if free_ca else (0.0, 1.0)
    miss_w, ww = (total_mg - free_mg - w, ww + free_mg) if free_mg else (0.0, 1.0)
    minor = uu * ww - uw * uw
    pull_u = (hu * ww - hw * uw) / minor
    pull_w = (hw * uu - hu * uw) / minor
    step = (-charge - pull_u * miss_u - pull_w * miss_w) / (hh - pull_u * hu - pull_w * hw)
    left_u = miss_u - hu * step
    left_w = miss_w - hw * step
    return step, (left_u * ww - left_w * uw) / minor, (left_w * uu - left_u * uw) / minor
