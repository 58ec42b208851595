"""How fast a jet makes a tank even, and what an exchange between its three layers does.

No tank lives here, only the arithmetic that is applied to its contents.
"""

from __future__ import annotations

import math

ROUNDS_TO_95 = 3.4007
"""Exchange (rate x time) after which the far layer has 95 % of an addition to the near one.

Root of 1.5 e^-x - 0.5 e^-3x = 0.05: three equal layers in a chain.
"""


SUCTION_M = 0.02
"""Depth of water below which the stir pump's suction draws air (assumed)."""


def pumped_l_min(flow_l_min: float, depth_m: float) -> float:
    """Return what a running stir pump moves, L/min: nothing where its suction is uncovered."""
    return flow_l_min if depth_m >= SUCTION_M else 0.0


def jet_speed_m_s(flow_l_min: float, nozzle_mm: float) -> float:
    """Return the mean speed in the nozzle, m/s."""
    bore_m = nozzle_mm * 1e-3
    return flow_l_min / 60000.0 / (math.pi * bore_m * bore_m / 4.0)


def jet_mixing_time_s(flow_l_min: float, nozzle_mm: float, path_m: float) -> float:
    """Return the time to 95 % homogeneity of a jet-mixed tank, s; infinite without flow.

    Grenville & Tilton, Chem. Eng. Res. Des. 74A (1996) 390: theta95 = 3.00 Z2 / (U D), for a turbulent
    central jet (Re > 10 000) along the longest dimension; constant from memory.
    """
    if flow_l_min <= 0.0:
        return math.inf
    return 3.00 * path_m * path_m / (jet_speed_m_s(flow_l_min, nozzle_mm) * nozzle_mm * 1e-3)


def exchange(top: list[float], middle: list[float], bottom: list[float], upper: float, lower: float) -> None:
    """Let three equal layers in a chain exchange, in place.

    `upper` and `lower` are rate x time between the top two and the bottom two layers. Exact solution of
    c1' = a (c2 - c1), c2' = a (c1 - c2) + b (c3 - c2), c3' = b (c2 - c3) by its modes, so any amount is
    stable and two short exchanges equal one long one. Each mode is written without differences of like
    numbers: with r2 = a2 - ab + b2 the fast one has the rate a + b + r and the shape
    (a (a + r), -(a + r) (b + r), b (b + r)), the slow one 3 a b / (a + b + r), at right angles to it.
    """
    larger = max(upper, lower)
    if larger <= 0.0:
        return
    a, b = upper / larger, lower / larger
    r = math.sqrt(a * a - a * b + b * b)
    x, y, z = a * (a + r), -(a + r) * (b + r), b * (b + r)
    u, v, w = z - y, (a - b) * (a + b + r), y - x
    # What each mode loses; its square length scales both of its factors.
    fast = math.expm1(-larger * (a + b + r)) / (x * x + y * y + z * z)
    slow = math.expm1(-larger * 3.0 * a * b / (a + b + r)) / (u * u + v * v + w * w)
    # How much of its difference to the middle layer reaches each layer: every row of the matrix sums to zero.
    top_mid, mid_bottom = fast * x * y + slow * u * v, fast * y * z + slow * v * w
    top_bottom = fast * x * z + slow * u * w
    for place, (c1, c2, c3) in enumerate(zip(top, middle, bottom, strict=True)):
        if c1 == c2 == c3:
            continue
        down, further, across = top_mid * (c2 - c1), mid_bottom * (c3 - c2), top_bottom * (c3 - c1)
        top[place] = c1 + down + across
        middle[place] = c2 - down + further
        bottom[place] = c3 - further - across
