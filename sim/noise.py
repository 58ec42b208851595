"""Repeatable noise that depends on what and when, never on how often someone looks.

A reading at the same moment with the same seed has the same noise, so the number of scans changes nothing.
"""

from __future__ import annotations

import math

_MASK = (1 << 64) - 1
QUANTUM_S = 0.1


def seed_for(seed: int, name: str) -> int:
    """Return a seed of its own for something with a name."""
    mixed = seed & _MASK
    for byte in name.encode():
        mixed = _mixed(mixed ^ byte)
    return mixed


def gaussian(seed: int, index: int) -> float:
    """Return the normal deviate of this seed and index, within 6 standard deviations.

    Sum of twelve uniform deviates less 6 (central limit), from two rounds of the SplitMix64 mixer (Steele,
    Lea & Flood 2014) cut into pieces of 10 bits.
    """
    first = _mixed((seed + (index + 1) * 0x9E3779B97F4A7C15) & _MASK)
    second = _mixed(first ^ 0xD1B54A32D192ED03)
    total = 0
    for _ in range(6):
        total += (first & 1023) + (second & 1023)
        first >>= 10
        second >>= 10
    return (total - 12 * 511.5) / 1024.0


def gaussian_at(seed: int, now_s: float) -> float:
    """Return the normal deviate of this seed at this moment, the same within a tenth of a second."""
    return gaussian(seed, math.floor(now_s / QUANTUM_S + 1e-6))


def uniform_at(seed: int, now_s: float) -> float:
    """Return a number from 0 to below 1 for this moment, the same within a tenth of a second."""
    index = math.floor(now_s / QUANTUM_S + 1e-6)
    return _mixed((seed + (index + 1) * 0x9E3779B97F4A7C15) & _MASK) / (_MASK + 1)


def wander_at(seed: int, now_s: float, period_s: float) -> float:
    """Return a smooth wander about 0 at this moment: deviates a `period_s` apart, eased into each other.

    Standard deviation 1 at the deviates and 0.71 half-way between them.
    """
    place = now_s / period_s
    index = math.floor(place)
    share = place - index
    eased = share * share * (3.0 - 2.0 * share)
    return gaussian(seed, index) * (1.0 - eased) + gaussian(seed, index + 1) * eased


def _mixed(value: int) -> int:
    """Return the SplitMix64 finaliser of a 64-bit number."""
    value = ((value ^ (value >> 30)) * 0xBF58476D1CE4E5B9) & _MASK
    value = ((value ^ (value >> 27)) * 0x94D049BB133111EB) & _MASK
    return value ^ (value >> 31)
