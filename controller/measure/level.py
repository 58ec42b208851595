"""Tank level and flow pulses as litres, and how far the two disagree.

Plain geometry of an upright cylinder. Whether a reading is plausible is not judged here.
"""

from __future__ import annotations

import math

from controller.settings.values import Fill, Tank


def litres_per_mm(tank: Tank) -> float:
    """Give the litres in one millimetre of level: pi/4 d2, with 1 m2 x 1 mm = 1 L."""
    return math.pi / 4.0 * tank.diameter_m**2


def litres_at(level_mm: float, tank: Tank) -> float:
    """Give the contents in litres at a level above the tank's floor."""
    return level_mm * litres_per_mm(tank)


def level_mm_at(contents_l: float, tank: Tank) -> float:
    """Give the level in millimetres above the tank's floor at some contents."""
    return contents_l / litres_per_mm(tank)


def litres_flowed(pulses: int, fill: Fill) -> float:
    """Give the litres that a number of flow-meter pulses stands for."""
    return pulses / fill.pulses_per_l


def disagreement_l(rise_mm: float, pulses: int, tank: Tank, fill: Fill) -> float:
    """Give how many litres the level rose above what the flow meter counted.

    Positive: the level claims more (a drifting level, water from elsewhere, a dead meter); negative: the
    meter claims more (a leak, an open drain, a stuck level). Compare its size with `fill.disagreement_l`.
    """
    return litres_at(rise_mm, tank) - litres_flowed(pulses, fill)
