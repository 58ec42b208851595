"""How fast CO2 crosses the surface of a tank. No chemistry: concentrations come from the solver.

Two-film view with the resistance in the water: flux = velocity x (CO2(aq) - CO2(aq) at equilibrium). The
velocities are orders of magnitude of still indoor water, of a surface renewed by a jet from below, and of
coarse bubbles (common engineering ranges, from memory; no source for this tank). The jet's share is taken
proportional to its flow.
"""

from __future__ import annotations

STILL_CM_H = 1.0
JET_CM_H_AT_60_L_MIN = 50.0
BUBBLES_CM_H = 90.0


def co2_velocity_m_s(stir_l_min: float, air_on: bool) -> float:
    """Return the transfer velocity of CO2, m/s, at the present stir flow (L/min) and air."""
    cm_h = STILL_CM_H + JET_CM_H_AT_60_L_MIN * max(stir_l_min, 0.0) / 60.0
    if air_on:
        cm_h += BUBBLES_CM_H
    return cm_h / 360000.0
