"""The uncertainty budget of a pump's calibration: what was weighed, on what, and what each doubt is worth.

Every line is a standard uncertainty as a share of mL per count (JCGM 100:2008, "GUM", clause 4). No series is
judged here; that is `pump_calibration.py`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from controller.measure.gravimetry import Air, water_density_kg_m3, z_factor_ml_g
from controller.measure.weighed_delivery import WeighedDelivery

_EVEN = math.sqrt(3.0)
"""Half-width over standard deviation of what is evenly likely between two limits (GUM 4.3.7)."""
WATER_IMPURE_KG_M3 = 0.3
"""Tap water may be so much heavier by its salts, or lighter by its air (assumed)."""
AIR_OFF_SHARE = 0.05
"""How far air pressure, temperature and humidity as given may leave the air's density off (assumed)."""
EVAPORATES_G = 0.01
"""What may have gone from the beaker between tare and reading (assumed; a narrow beaker, a minute)."""


@dataclass(frozen=True, slots=True)
class Balance:
    """A balance by its data sheet. `linearity_g`: how far it may be off anywhere in its range, half-width.

    `span_share`: how far its adjustment may be off as a share; half-width. Common practice, no source: twice
    the readability, and 0.05 % for a balance that was checked with a weight.
    """

    readability_g: float = 0.01
    linearity_g: float | None = None
    span_share: float = 5e-4

    def __post_init__(self) -> None:
        if not 0.0 < self.readability_g <= 10.0:
            raise ValueError(
                f"a balance that reads to {self.readability_g:g} g weighs no dose (10 g at most)"
            )

    @property
    def off_g(self) -> float:
        """Give how far a reading may be off, half-width."""
        return 2.0 * self.readability_g if self.linearity_g is None else self.linearity_g


@dataclass(frozen=True, slots=True)
class Weighed:
    """What was weighed and in what surroundings. `density_kg_l` None: water, by its temperature.

    `density_off_share` is how far a measured density may be off, half-width. `evaporated_g` was lost from
    every delivery, by a blank weighing, and is added back.
    """

    liquid_c: float = 20.0
    density_kg_l: float | None = None
    density_off_share: float = 0.003
    air: Air = field(default_factory=Air)
    balance: Balance = field(default_factory=Balance)
    evaporated_g: float = 0.0
    temperature_off_k: float = 0.5

    @property
    def is_water(self) -> bool:
        """Tell whether water was weighed."""
        return self.density_kg_l is None

    def density_kg_m3(self, liquid_c: float | None = None) -> float:
        """Give the liquid's density. Raises ValueError for water that is no liquid."""
        if self.density_kg_l is not None:
            return self.density_kg_l * 1000.0
        return water_density_kg_m3(self.liquid_c if liquid_c is None else liquid_c)

    def z_ml_g(self, liquid_c: float | None = None) -> float:
        """Give the mL of one gram."""
        return z_factor_ml_g(self.density_kg_m3(liquid_c), self.air)

    def ml(self, one: WeighedDelivery) -> float:
        """Give the volume of one delivery."""
        return (one.grams + self.evaporated_g) * self.z_ml_g(one.liquid_c)

    @property
    def reading_deviation_ml(self) -> float:
        """Give what rounding does to a net weight: tare and reading, each within a digit (GUM F.2.2.1)."""
        return self.balance.readability_g / math.sqrt(12.0) * math.sqrt(2.0) * self.z_ml_g()

    @property
    def start_deviation_ml(self) -> float:
        """Give what shifts every delivery alike: the balance's linearity, and what evaporates."""
        return math.hypot(self.balance.off_g, EVAPORATES_G) / _EVEN * self.z_ml_g()


@dataclass(frozen=True, slots=True)
class BudgetLine:
    """One doubt: `standard_share` of mL per count. `by`: from repeats (type A) or from knowledge (type B)."""

    name: str
    by: str
    standard_share: float
    how: str
    dof: float = math.inf


def budget(weighed: Weighed, top_ml: float, repeats_share: float, dof: int) -> tuple[BudgetLine, ...]:
    """Give the lines of the budget; `top_ml` is the largest amount, which carries the slope."""
    top_g = top_ml / weighed.z_ml_g()
    balance = weighed.balance
    return (
        BudgetLine("repeats", "A", repeats_share, "scatter of the deliveries about the line", dof),
        BudgetLine(
            "balance, span",
            "B",
            balance.span_share / _EVEN,
            f"adjusted within {balance.span_share * 100:g} %",
        ),
        BudgetLine(
            "balance, linearity",
            "B",
            balance.off_g / _EVEN / top_g,
            f"within {balance.off_g:g} g on {top_g:.0f} g",
        ),
        BudgetLine("liquid's density", "B", _density_share(weighed), _density_words(weighed)),
        BudgetLine(
            "temperature", "B", _temperature_share(weighed), f"within {weighed.temperature_off_k:g} °C"
        ),
        BudgetLine("air", "B", _air_share(weighed), f"density within {AIR_OFF_SHARE * 100:g} %"),
        BudgetLine(
            "evaporation", "B", EVAPORATES_G / _EVEN / top_g, f"within {EVAPORATES_G:g} g on {top_g:.0f} g"
        ),
    )


def _density_share(weighed: Weighed) -> float:
    if weighed.is_water:
        return WATER_IMPURE_KG_M3 / weighed.density_kg_m3() / _EVEN
    return weighed.density_off_share / _EVEN


def _density_words(weighed: Weighed) -> str:
    if weighed.is_water:
        return f"tap water within {WATER_IMPURE_KG_M3:g} kg/m3 of pure water (CIPM)"
    return f"measured within {weighed.density_off_share * 100:g} %"


def _temperature_share(weighed: Weighed) -> float:
    """Give what a wrong temperature does to the density; an input expands as water does (assumed)."""
    middle, off = min(max(weighed.liquid_c, 1.0), 39.0), weighed.temperature_off_k
    change = water_density_kg_m3(middle + off) - water_density_kg_m3(middle - off)
    return abs(change) / 2.0 / water_density_kg_m3(middle) / _EVEN


def _air_share(weighed: Weighed) -> float:
    air = weighed.air.density_kg_m3
    return AIR_OFF_SHARE * air * (1.0 / weighed.density_kg_m3() - 1.0 / 8000.0) / _EVEN
