"""How a temperature swings over a day: the room's and the supply's. Nothing is warmed here."""

from __future__ import annotations

import math

DAY_S = 86_400.0
COLDEST_S = 3.5 * 3600.0
"""When a day's swing is at its coldest, from the start: 06:00 for a night from 02:30 (assumed)."""


def swung_c(mean_c: float, swing_k: float, age_s: float) -> float:
    """Return a temperature that swings by `swing_k` either way over a day; a plain cosine (assumed)."""
    return mean_c - swing_k * math.cos(2.0 * math.pi * (age_s - COLDEST_S) / DAY_S) if swing_k else mean_c
