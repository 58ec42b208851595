"""Grains in the tank: how fast they fall, rise again, and dissolve.

Calcite: Plummer, Wigley & Parkhurst, Am. J. Sci. 278 (1978) 179, constants as in the rates of the PHREEQC
database; gypsum: diffusion to a sphere (Sherwood number 2), in its order of magnitude. Surface shrinks with
the amount (first order), a simplification. Grains that rest on the floor show a tenth of their surface.
Nothing precipitates.
"""

from __future__ import annotations

import math

from sim import saturation
from sim.charge_balance import WaterSolver
from sim.ions import CA, CARBONATE, GYPSUM, LIMESTONE, SO4
from sim.settling import terminal_velocity_m_s
from sim.viscosity import water_density_kg_m3, water_viscosity_mpa_s

GRAIN_UM = 10.0
GRAIN_KG_M3 = 2500.0
LIMESTONE_CM2_MMOL = 221.0
"""Surface of 10 um grains of calcite (2.71 g/cm3): 6 / (density x diameter) x 0.1001 g/mmol."""
GYPSUM_PER_S = 0.05
"""2 D/d x surface x solubility is 0.13 at 10 um (1e-5 cm2/s, 445 cm2/mmol, 15 mmol/L); sizes mix."""
FLOOR_SURFACE = 0.1
RISE_S = 20.0
"""Time constant with which a running stir pump lifts grains off the floor (assumed)."""

DISSOLVES_INTO = {GYPSUM: (CA, SO4), LIMESTONE: (CA, CARBONATE)}


def fall_m_s(temperature_c: float) -> float:
    """Return the settling speed of a middling grain in the tank, m/s."""
    return terminal_velocity_m_s(
        GRAIN_UM * 1e-6,
        GRAIN_KG_M3,
        water_density_kg_m3(temperature_c),
        water_viscosity_mpa_s(temperature_c) * 1e-3,
    )


def dissolving_per_s(kind: int, water: WaterSolver) -> float:
    """Return the share of suspended grains of `kind` that dissolves per second; 0 in saturated water."""
    if kind == GYPSUM:
        return GYPSUM_PER_S * max(1.0 - _ratio(saturation.gypsum(water)), 0.0)
    kelvin = water.at.kelvin
    acid = math.pow(10.0, 0.198 - 444.0 / kelvin - water.ph)
    carbonic = math.pow(10.0, 2.84 - 2177.0 / kelvin) * water.co2
    if water.at.temperature_c <= 25.0:
        plain = math.pow(10.0, -5.86 - 317.0 / kelvin)
    else:
        plain = math.pow(10.0, -1.1 - 1737.0 / kelvin)
    undersaturation = max(1.0 - math.pow(_ratio(saturation.calcite(water)), 2.0 / 3.0), 0.0)
    # k1 a_H + k2 a_CO2 + k3 in mmol/cm2/s with activities in mol/kg, as the rate is tabulated.
    return LIMESTONE_CM2_MMOL * (acid + carbonic + plain) * undersaturation


def _ratio(index: float) -> float:
    """Return ion product over solubility product."""
    return math.pow(10.0, min(index, 3.0))
