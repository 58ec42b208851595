"""The units a settings file may use: their spellings, what they measure, and their exact sizes.

Sizes are worked out by pint in exact fractions from the definitions below and from nothing else: pint's own
list is left out, because it reads `pH` as picohenry and `ML` as a million litres. Reading a text is
`quantity.py`; spellings that are refused by name are `traps.py`.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from fractions import Fraction
from functools import cache

import pint


class Dimension(Enum):
    """What a unit measures; the value is the word that people read."""

    VOLUME = "a volume"
    TIME = "a time"
    LENGTH = "a length"
    MASS = "a mass"
    VOLTAGE = "a voltage"
    TEMPERATURE = "a temperature"
    VISCOSITY = "a viscosity"
    SHARE = "a share"
    COUNT = "a number of counts"
    PULSE = "a number of pulses"


class Spoons(Enum):
    """Which spoon and fluid ounce a file means.

    LABEL: 5, 15 and 30 mL, as on labels (21 CFR 101.9(b)(5)(viii)). CUSTOMARY: the US customary sizes (NIST
    Handbook 44 Appendix C).
    """

    LABEL = "label"
    CUSTOMARY = "customary"


@dataclass(frozen=True, slots=True)
class Unit:
    """One unit. `name` is pint's; `convention` says which of several sizes is meant, if there are several."""

    name: str
    dimension: Dimension
    convention: str = ""


# The gallon is 231 cubic inches and the inch 25.4 mm (NIST Handbook 44 Appendix C); the imperial gallon is
# 4.54609 L (UK Weights and Measures Act 1985). Everything else follows from these.
_DEFINITIONS = (
    "metre = [length]",
    "centimetre = 0.01 * metre",
    "millimetre = 0.001 * metre",
    "inch = 0.0254 * metre",
    "litre = 0.001 * metre ** 3",
    "millilitre = 0.001 * litre",
    "microlitre = 0.000001 * litre",
    "US_gallon = 231 * inch ** 3",
    "US_quart = US_gallon / 4",
    "US_fluid_ounce = US_gallon / 128",
    "US_tablespoon = US_fluid_ounce / 2",
    "US_teaspoon = US_fluid_ounce / 6",
    "imperial_gallon = 4.54609 * litre",
    "imperial_quart = imperial_gallon / 4",
    "imperial_fluid_ounce = imperial_gallon / 160",
    "label_teaspoon = 5 * millilitre",
    "label_tablespoon = 15 * millilitre",
    "label_fluid_ounce = 30 * millilitre",
    "second = [time]",
    "minute = 60 * second",
    "hour = 60 * minute",
    "day = 24 * hour",
    "kilogram = [mass]",
    "gram = 0.001 * kilogram",
    "volt = [voltage]",
    "millivolt = 0.001 * volt",
    "kelvin = [temperature]",
    "degree_Celsius = kelvin; offset: 273.15",
    "millipascal_second = [viscosity]",
    "whole = [share]",
    "percent = 0.01 * whole",
    "count = [count]",
    "pulse = [pulse]",
)


def _spelled(spellings: str, name: str, dimension: Dimension, convention: str = "") -> dict[str, Unit]:
    return dict.fromkeys(spellings.split("|"), Unit(name, dimension, convention))


_ALWAYS: dict[str, Unit] = {
    **_spelled("mL|ml|millilitre|millilitres|milliliter|milliliters", "millilitre", Dimension.VOLUME),
    **_spelled("L|l|litre|litres|liter|liters", "litre", Dimension.VOLUME),
    **_spelled("uL|µL|μL", "microlitre", Dimension.VOLUME),
    **_spelled("gal|gallon|gallons|US gal|US gallon|US gallons", "US_gallon", Dimension.VOLUME, "US gallon"),
    **_spelled("imp gal|imp gallon|imp gallons", "imperial_gallon", Dimension.VOLUME, "imperial gallon"),
    **_spelled("qt|quart|quarts|US qt|US quart|US quarts", "US_quart", Dimension.VOLUME, "US quart"),
    **_spelled("imp qt|imp quart|imp quarts", "imperial_quart", Dimension.VOLUME, "imperial quart"),
    **_spelled("US fl oz", "US_fluid_ounce", Dimension.VOLUME, "US fluid ounce 29.57 mL"),
    **_spelled("imp fl oz", "imperial_fluid_ounce", Dimension.VOLUME, "imperial fluid ounce 28.41 mL"),
    **_spelled("s|second|seconds", "second", Dimension.TIME),
    **_spelled("min|minute|minutes", "minute", Dimension.TIME),
    **_spelled("h|hour|hours", "hour", Dimension.TIME),
    **_spelled("day|days", "day", Dimension.TIME),
    **_spelled("mm", "millimetre", Dimension.LENGTH),
    **_spelled("cm", "centimetre", Dimension.LENGTH),
    **_spelled("m", "metre", Dimension.LENGTH),
    **_spelled("g", "gram", Dimension.MASS),
    **_spelled("kg", "kilogram", Dimension.MASS),
    **_spelled("mV", "millivolt", Dimension.VOLTAGE),
    **_spelled("V", "volt", Dimension.VOLTAGE),
    **_spelled("°C|degC", "degree_Celsius", Dimension.TEMPERATURE),
    **_spelled("mPa s|mPa·s", "millipascal_second", Dimension.VISCOSITY),
    **_spelled("%", "percent", Dimension.SHARE),
    **_spelled("count|counts", "count", Dimension.COUNT),
    **_spelled("pulse|pulses", "pulse", Dimension.PULSE),
}

_TEASPOON = "tsp|teaspoon|teaspoons"
_TABLESPOON = "tbsp|tablespoon|tablespoons"
_FLUID_OUNCE = "fl oz|floz|fluid ounce|fluid ounces"

_BY_SPOONS: dict[Spoons, dict[str, Unit]] = {
    Spoons.LABEL: {
        **_spelled(_TEASPOON, "label_teaspoon", Dimension.VOLUME, "label spoon 5 mL"),
        **_spelled(_TABLESPOON, "label_tablespoon", Dimension.VOLUME, "label spoon 15 mL"),
        **_spelled(_FLUID_OUNCE, "label_fluid_ounce", Dimension.VOLUME, "label fluid ounce 30 mL"),
    },
    Spoons.CUSTOMARY: {
        **_spelled(_TEASPOON, "US_teaspoon", Dimension.VOLUME, "customary spoon 4.929 mL"),
        **_spelled(_TABLESPOON, "US_tablespoon", Dimension.VOLUME, "customary spoon 14.79 mL"),
        **_spelled(_FLUID_OUNCE, "US_fluid_ounce", Dimension.VOLUME, "customary fluid ounce 29.57 mL"),
    },
}


def unit_spelled(word: str, spoons: Spoons) -> Unit | None:
    """Find the unit of exactly this spelling (case matters), or None."""
    return _ALWAYS.get(word) or _BY_SPOONS[spoons].get(word)


def spellings(dimension: Dimension) -> list[str]:
    """List the spellings of the units of one dimension."""
    table = _ALWAYS | _BY_SPOONS[Spoons.LABEL]
    return [word for word, unit in table.items() if unit.dimension is dimension]


@cache
def _registry() -> pint.UnitRegistry[Fraction]:
    registry: pint.UnitRegistry[Fraction] = pint.UnitRegistry(None, non_int_type=Fraction, cache_folder=None)
    for definition in _DEFINITIONS:
        registry.define(definition)
    return registry


@cache
def exact_factor(name: str, into: str) -> Fraction:
    """Give the exact number of `into` in one unit `name`; both are names of the definitions above."""
    return Fraction(_registry().Quantity(Fraction(1), name).to(into).magnitude)
