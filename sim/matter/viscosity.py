"""Thickness and weight of water, and how warmth and grains change the thickness of a liquid. No tank here."""

from __future__ import annotations

import math

from sim.matter.physical_constants import KELVIN


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


ANDRADE_K = 2100.0
"""Fits water within 2 % at 10-30 deg C; taken for every carrier liquid, though syrups change far more."""
MOST_PACKED_SHARE = 0.63
EINSTEIN = 2.5
"""Rise of viscosity with the first grains: Einstein (1906, 1911), spheres."""


def carrier_viscosity_mpa_s(at_20_mpa_s: float, temperature_c: float, andrade_k: float = ANDRADE_K) -> float:
    """Return the viscosity of a liquid at another temperature than 20 deg C, mPa.s.

    Andrade, Phil. Mag. 17 (1934) 497: exp(B / T), with B in kelvin (from memory). No yield stress, no
    thinning by shear.
    """
    return at_20_mpa_s * math.exp(andrade_k * (1.0 / (temperature_c + KELVIN) - 1.0 / (20.0 + KELVIN)))


def thickening_share(solids_share: float) -> float:
    """Return how many times thicker grains make their liquid, by their volume share.

    Krieger & Dougherty, Trans. Soc. Rheol. 3 (1959) 137: (1 - phi / 0.63)^(-2.5 x 0.63), for spheres of one
    size (from memory). Taken at 0.62 for anything denser: what is packed does not flow as a liquid.
    """
    share = min(max(solids_share, 0.0), MOST_PACKED_SHARE - 0.01)
    return math.pow(1.0 - share / MOST_PACKED_SHARE, -EINSTEIN * MOST_PACKED_SHARE)
