"""The kinds of quantity a settings file holds: what each must measure, its bounds, an example.

Bounds are far outside any rig of this kind: they catch slips of a unit or a point, not poor choices.
"""

from __future__ import annotations

from dataclasses import replace

from controller.settings.quantity import Wanted
from controller.settings.units import Dimension

LITRES = Wanted(Dimension.VOLUME, "litre", "L", 100_000, "180 L")
LITRES_OR_NONE = replace(LITRES, zero=True, example="0 L")
MILLILITRES = Wanted(Dimension.VOLUME, "millilitre", "mL", 1_000_000, "12 mL")
MILLILITRES_OR_NONE = replace(MILLILITRES, zero=True, example="0 mL")
# The intercept of a pump's calibration: what every delivery gives beyond its counts, or holds back.
MILLILITRES_SIGNED = Wanted(Dimension.VOLUME, "millilitre", "mL", 5, "0.1 mL", low=-5, signed=True)
MILLILITRES_PER_LITRE = Wanted(
    Dimension.VOLUME, "millilitre", "mL/L", 500, "4 mL/L", denominator=Dimension.VOLUME, per="litre"
)
MILLILITRES_PER_MINUTE = Wanted(
    Dimension.VOLUME, "millilitre", "mL/min", 20_000, "250 mL/min", denominator=Dimension.TIME, per="minute"
)
LITRES_PER_MINUTE = Wanted(
    Dimension.VOLUME, "litre", "L/min", 5_000, "12 L/min", denominator=Dimension.TIME, per="minute"
)
MILLILITRES_PER_COUNT = Wanted(
    Dimension.VOLUME, "millilitre", "mL/count", 10, "0.05 mL/count", denominator=Dimension.COUNT, per="count"
)
PULSES_PER_LITRE = Wanted(
    Dimension.PULSE, "pulse", "pulses/L", 100_000, "450 pulses/L", denominator=Dimension.VOLUME, per="litre"
)
SECONDS = Wanted(Dimension.TIME, "second", "s", 30 * 86_400, "4 min")
SECONDS_OR_NONE = replace(SECONDS, zero=True, example="0 s")
DAYS = Wanted(Dimension.TIME, "day", "days", 3_660, "30 days", whole=True)
METRES = Wanted(Dimension.LENGTH, "metre", "m", 20, "60 cm")
MILLIMETRES = Wanted(Dimension.LENGTH, "millimetre", "mm", 1_000, "15 mm")
MILLIVOLTS = Wanted(Dimension.VOLTAGE, "millivolt", "mV", 500, "4 mV", low=-500, signed=True)
# What a front end may give a converter that takes 0 to 3.3 V.
CONVERTER_MILLIVOLTS = Wanted(Dimension.VOLTAGE, "millivolt", "mV", 3_300, "1500 mV", zero=True)
DEGREES_CELSIUS = Wanted(Dimension.TEMPERATURE, "degree_Celsius", "°C", 60, "18 °C", low=-10, signed=True)
KILOGRAMS_PER_LITRE = Wanted(
    Dimension.MASS, "kilogram", "kg/L", 3, "1.15 kg/L", denominator=Dimension.VOLUME, per="litre", low=0.5
)
MILLIPASCAL_SECONDS = Wanted(Dimension.VISCOSITY, "millipascal_second", "mPa s", 100_000, "20 mPa s", low=0.1)
SHARE = Wanted(Dimension.SHARE, "whole", "of the whole", 1, "75 %")
# A share of the theoretical slope: a good electrode may lie a little above it.
SLOPE = replace(SHARE, low=0.5, high=1.1)
SHARE_OR_NONE = replace(SHARE, zero=True, example="5 %")
# Kept free at each of two edges: at half, nothing would be left between them.
GUARD = replace(SHARE, zero=True, high=0.4, example="20 %")
FIRST_FILL = replace(SHARE, low=0.1, high=0.95)
RECOVERY = replace(SHARE, low=0.5, high=0.9999, example="99.5 %")
