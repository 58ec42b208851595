"""Measuring by hand: pours of a vessel, and what to do when an amount is too small for it.

A measuring vessel is trusted from 5 % of what it holds upward (common practice, no source).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from controller.plan.amounts import pours

CREDIBLE_SHARE = 0.05
# More pours than this are warned of, and more than the most are refused: pours are miscounted.
MANY_POURS = 10
MOST_POURS = 50


@dataclass(frozen=True, slots=True)
class Measured:
    """How one amount is measured, mL.

    `pours_ml` are pours of what is measured: the input itself, or its dilution when `dilution` is above 1.
    Each of `dilution_steps` takes one tenth of the vessel and fills it up with water, which is 1 in 10.
    """

    ml: float
    pours_ml: tuple[float, ...]
    dilution: int
    dilution_steps: int

    @property
    def water_ml(self) -> float:
        """Return the water that comes along with the amount because it was diluted, mL."""
        return self.ml * (self.dilution - 1)


def least_credible_ml(vessel_ml: float) -> float:
    """Return the smallest amount a vessel measures credibly, mL."""
    return vessel_ml * CREDIBLE_SHARE


def even_pours(ml: float, vessel_ml: float) -> tuple[float, ...]:
    """Split an amount over a vessel, mL; a last pour too small to read shares with the one before it."""
    split = pours(ml, vessel_ml)
    if len(split) > 1 and split[-1] < least_credible_ml(vessel_ml):
        half_ml = (split[-2] + split[-1]) / 2.0
        return (*split[:-2], half_ml, half_ml)
    return split


def dilution_steps(ml: float, vessel_ml: float) -> int:
    """Return how often an amount above 0 is diluted 1 in 10 until the vessel measures it credibly."""
    steps = 0
    while ml * 10**steps < least_credible_ml(vessel_ml):
        steps += 1
    return steps


def measured(ml: float, vessel_ml: float) -> Measured:
    """Say how to measure an amount above 0 with a vessel; dilute 1 in 10, 100 or more if it is too small."""
    if ml <= 0:
        raise ValueError(f"nothing to measure in {ml:g} mL")
    steps = dilution_steps(ml, vessel_ml)
    dilution = 10**steps
    return Measured(
        ml=ml, pours_ml=even_pours(ml * dilution, vessel_ml), dilution=dilution, dilution_steps=steps
    )


def rounded_up_ml(ml: float) -> float:
    """Round an amount above 0 up to two figures, so that a vessel of that size at least does work."""
    return math.ceil(ml / _step(ml) * (1.0 - 1e-12)) * _step(ml)


def rounded_down_ml(ml: float) -> float:
    """Round an amount above 0 down to two figures, so that a vessel of that size at most does work."""
    return math.floor(ml / _step(ml) * (1.0 + 1e-12)) * _step(ml)


def _step(ml: float) -> float:
    return float(10.0 ** (math.floor(math.log10(ml)) - 1))
