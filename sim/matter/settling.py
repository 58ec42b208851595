"""How fast grains fall in a liquid, alone and in company. SI units; no bottle and no tank here."""

from __future__ import annotations

import math
from collections.abc import Callable

from sim.matter.physical_constants import GRAVITY_M_S2


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


def richardson_zaki_exponent(reynolds: float) -> float:
    """Return the exponent of Richardson & Zaki by the Reynolds number of one grain falling alone.

    Richardson & Zaki, Trans. Inst. Chem. Eng. 32 (1954) 35 (bands from memory): 4.65 below 0.2,
    4.35 Re^-0.03 to 1, 4.45 Re^-0.1 to 500, 2.39 above. Walls are taken to be far away.
    """
    if reynolds < 0.2:
        return 4.65
    if reynolds < 1.0:
        return 4.35 * math.pow(reynolds, -0.03)
    if reynolds < 500.0:
        return 4.45 * math.pow(reynolds, -0.1)
    return 2.39


def hindered_share(solids_share: float, exponent: float = 4.65) -> float:
    """Return hindered over free settling speed at a volume share of solids.

    Richardson & Zaki (1954): (1 - phi)^n, with n = 4.65 in the Stokes range. Of mixed sizes `solids_share` is
    that of all grains together: a simplification beside the mixture laws of Masliyah (1979) or Batchelor
    (1982), in which large grains also drag small ones along.
    """
    return math.pow(max(1.0 - solids_share, 0.0), exponent)
