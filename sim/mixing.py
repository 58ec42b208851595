"""How fast a stirred tank becomes even, and what an exchange between its three layers does.

No tank lives here, only the arithmetic that `tank.py` applies to its contents.
"""

from __future__ import annotations

import math

ROUNDS_TO_95 = 3.4007
"""Exchange (rate x time) after which the far layer has 95 % of an addition to the near one.

Root of 1.5 e^-x - 0.5 e^-3x = 0.05: three equal layers in a chain.
"""


def jet_mixing_time_s(flow_l_min: float, nozzle_mm: float, path_m: float) -> float:
    """Return the time to 95 % homogeneity of a jet-mixed tank, s; infinite without flow.

    Grenville & Tilton, Chem. Eng. Res. Des. 74A (1996) 390: theta95 = 3.00 Z2 / (U D), for a turbulent
    central jet (Re > 10 000) along the longest dimension; constant from memory.
    """
    if flow_l_min <= 0.0:
        return math.inf
    bore_m = nozzle_mm * 1e-3
    speed_m_s = flow_l_min / 60000.0 / (math.pi * bore_m * bore_m / 4.0)
    return 3.00 * path_m * path_m / (speed_m_s * bore_m)


def exchange(top: list[float], middle: list[float], bottom: list[float], rounds: float) -> None:
    """Let three equal layers in a chain exchange for `rounds` (rate x time), in place.

    Exact solution of c1' = q (c2 - c1), c2' = q (c1 - 2 c2 + c3), c3' = q (c2 - c3) by its three modes, so
    any `rounds` is stable and two short ones equal one long one.
    """
    slow = 0.5 * math.exp(-rounds)
    fast = math.exp(-3.0 * rounds) / 6.0
    for place, (a, b, c) in enumerate(zip(top, middle, bottom, strict=True)):
        if a == b == c:
            continue
        mean = (a + b + c) / 3.0
        tilt = (a - c) * slow
        bulge = (a - 2.0 * b + c) * fast
        top[place] = mean + tilt + bulge
        middle[place] = mean - 2.0 * bulge
        bottom[place] = mean - tilt + bulge
