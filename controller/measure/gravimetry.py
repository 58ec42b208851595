"""From grams on a balance to millilitres: density of water and of air, buoyancy, and the Z factor.

Arithmetic only. What a series of weighings says of a pump is `pump_calibration.py`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

# Balances are adjusted in air with weights of this density (OIML R 111 convention).
WEIGHTS_KG_M3 = 8000.0
KELVIN_AT_0_C = 273.15
OUNCE_G = 28.349523125
"""Avoirdupois ounce, exact (NIST Handbook 44, Appendix C)."""

WATER_LOW_C, WATER_HIGH_C = 0.0, 40.0
AIR_LOW_HPA, AIR_HIGH_HPA = 600.0, 1100.0


@dataclass(frozen=True, slots=True)
class Air:
    """The air around the balance. Raises ValueError for air in which nobody weighs."""

    temperature_c: float = 20.0
    pressure_hpa: float = 1013.25
    humidity_percent: float = 50.0

    def __post_init__(self) -> None:
        if not AIR_LOW_HPA <= self.pressure_hpa <= AIR_HIGH_HPA:
            limits = f"{AIR_LOW_HPA:g} to {AIR_HIGH_HPA:g} hPa"
            raise ValueError(f"{self.pressure_hpa:g} hPa is no air pressure where people weigh ({limits})")
        if not 0.0 <= self.humidity_percent <= 100.0:
            raise ValueError(f"{self.humidity_percent:g} % is no relative humidity")
        if not -10.0 <= self.temperature_c <= 50.0:
            raise ValueError(f"{self.temperature_c:g} °C is no temperature to weigh at")

    @property
    def density_kg_m3(self) -> float:
        """Give its density, kg/m3: simplified CIPM formula (OIML R 111; coefficients from memory)."""
        vapour = 0.009 * self.humidity_percent * math.exp(0.061 * self.temperature_c)
        return (0.34848 * self.pressure_hpa - vapour) / (KELVIN_AT_0_C + self.temperature_c)


def water_density_kg_m3(temperature_c: float) -> float:
    """Give the density of air-free water at 101.325 kPa, kg/m3, for 0 to 40 °C (ValueError outside).

    CIPM: Tanaka et al., Metrologia 38 (2001) 301-309. Water that stood in air is lighter by some 0.003 kg/m3,
    tap water heavier by its salts: some 0.3 kg/m3 (assumed).
    """
    if not WATER_LOW_C <= temperature_c <= WATER_HIGH_C:
        raise ValueError(
            f"{temperature_c:g} °C: water is weighed between {WATER_LOW_C:g} and {WATER_HIGH_C:g} °C"
        )
    t = temperature_c
    gone = (t - 3.983035) ** 2 * (t + 301.797) / (522528.9 * (t + 69.34881))
    return 999.974950 * (1.0 - gone)


def z_factor_ml_g(liquid_kg_m3: float, air: Air) -> float:
    """Give the millilitres that one gram on the balance stands for.

    Z = (1 / (liquid - air)) (1 - air / weights), the form of ISO 4787 and ISO 8655-6. Not in it: the
    expansion of a measuring vessel, which a pump has none of. ValueError for a density that is no liquid's.
    """
    if not 500.0 <= liquid_kg_m3 <= 3000.0:
        raise ValueError(f"{liquid_kg_m3 / 1000:g} kg/L is no liquid of this trade (0.5 to 3 kg/L)")
    air_kg_m3 = air.density_kg_m3
    return 1000.0 / (liquid_kg_m3 - air_kg_m3) * (1.0 - air_kg_m3 / WEIGHTS_KG_M3)


def measured_density_kg_m3(net_g: float, volume_ml: float, air: Air) -> float:
    """Give the density of a liquid of which a known volume was weighed, kg/m3: the Z factor turned round."""
    if not net_g > 0.0 or not volume_ml > 0.0:
        raise ValueError(f"{net_g:g} g in {volume_ml:g} mL: both must be above 0")
    air_kg_m3 = air.density_kg_m3
    return net_g / volume_ml * 1000.0 * (1.0 - air_kg_m3 / WEIGHTS_KG_M3) + air_kg_m3
