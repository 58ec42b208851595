"""How fast grains fall in a liquid, alone and in company. SI units; no bottle and no tank here."""

from __future__ import annotations

import math
from collections.abc import Callable

GRAVITY_M_S2 = 9.80665


def schiller_naumann_drag(reynolds: float) -> float:
    """Return the drag coefficient of a sphere: Schiller & Naumann (1933) below Re 1000, 0.44 above."""
    if reynolds > 1000.0:
        return 0.44
    return 24.0 / reynolds * (1.0 + 0.15 * math.pow(reynolds, 0.687))


def stokes_velocity_m_s(
    diameter_m: float, grain_kg_m3: float, liquid_kg_m3: float, viscosity_pa_s: float
) -> float:
    """Return Stokes' settling speed, m/s; too fast above Re 0.1-0.3. Negative if the grain floats."""
    return GRAVITY_M_S2 * (grain_kg_m3 - liquid_kg_m3) * diameter_m * diameter_m / (18.0 * viscosity_pa_s)


def terminal_velocity_m_s(
    diameter_m: float,
    grain_kg_m3: float,
    liquid_kg_m3: float,
    viscosity_pa_s: float,
    drag: Callable[[float], float] = schiller_naumann_drag,
) -> float:
    """Return the free settling speed of one sphere, m/s; a grain no denser than the liquid stays (0)."""
    excess = grain_kg_m3 - liquid_kg_m3
    if excess <= 0.0:
        return 0.0
    speed = stokes_velocity_m_s(diameter_m, grain_kg_m3, liquid_kg_m3, viscosity_pa_s)
    # The drag correction only slows, so fixed-point rounds in the square root converge from above.
    for _ in range(200):
        reynolds = liquid_kg_m3 * speed * diameter_m / viscosity_pa_s
        slower = math.sqrt(4.0 * GRAVITY_M_S2 * excess * diameter_m / (3.0 * drag(reynolds) * liquid_kg_m3))
        if abs(slower - speed) <= 1e-12 * speed:
            return slower
        speed = slower
    return speed


def hindered_share(solids_share: float, exponent: float = 4.65) -> float:
    """Return hindered over free settling speed at a volume share of solids.

    Richardson & Zaki (1954): (1 - phi)^n with n = 4.65 in the Stokes range, the only one used here.
    """
    return math.pow(max(1.0 - solids_share, 0.0), exponent)
