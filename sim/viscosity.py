"""Physical properties of plain water that several models share. No chemistry, no tank."""

from __future__ import annotations

import math


def water_viscosity_mpa_s(temperature_c: float) -> float:
    """Return the dynamic viscosity of water, mPa.s, 0-40 deg C.

    Kestin, Sokolov & Wakeham, J. Phys. Chem. Ref. Data 7 (1978) 941 (coefficients from memory; within 0.2 %
    of the IAPWS values at 10-30 deg C, see the tests).
    """
    below = 20.0 - temperature_c
    exponent = below / (temperature_c + 96.0) * (1.2364 - 1.37e-3 * below + 5.7e-6 * below * below)
    return 1.002 * math.pow(10.0, exponent)


def water_density_kg_m3(temperature_c: float) -> float:
    """Return the density of air-free water, kg/m3, 0-40 deg C (Tanaka et al., Metrologia 38 (2001) 301)."""
    shifted = temperature_c - 3.983035
    return 999.974950 * (
        1.0 - shifted * shifted * (temperature_c + 301.797) / (522528.9 * (temperature_c + 69.34881))
    )
