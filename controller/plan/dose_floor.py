"""The smallest doses that a pump can honestly meter, and what is told of a plan or a `min_dose` below them.

Only the floors and the warnings about them live here. What refuses a dose is `min_dose` (`limits.py`); how
many counts a dose takes and how far it may be off is said by the room that meters.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from controller.plan.findings import Rule
from controller.plan.steps import PlanWarning
from controller.plan.water import Portion
from controller.plan.words import plain_ml
from controller.settings.numbers import plain_number
from controller.settings.values import Pump, Recipe, Site

MOST_SCATTER = 0.01
"""A dose's coefficient of variation at the floor."""
MOST_BIAS = 0.02
"""How far a dose may be off on the mean at the floor, as a share."""
REPEATS_WITHIN = 0.005
"""Standard deviation of a dose of whole rollers (short runs repeat within 0.5 to 1 %: from memory)."""
START_ML = 0.0145
"""Standard uncertainty of what a start gives beyond its counts: half a drop of 0.05 mL (from memory)."""
PULSATION_SHARE = 0.25
"""Stand-in for a pump whose pulsation nobody measured (assumed, meant to be cautious)."""
WELL = "within 2 % and with 1 % of scatter"


def dose_floor_ml(pump: Pump) -> float:
    """Return the amount, mL, from which on any dose scatters by 1 % and is off by 2 % at the most.

    The counts of a dose are chosen for the least expected squared error. That is no worse than it is for the
    nearest count half-way between two rollers: half a count of rounding, and a standard deviation of
    pulsation / sqrt(2) rollers by the start angle, for a sine that runs ahead of its mean and behind it by
    half of the pulsation. Nor is it worse than for whole rollers. Either error alone is at most that root.
    """
    roller_ml = pump.counts_per_roller * pump.ml_per_count
    pulsation = PULSATION_SHARE if pump.pulsation_share is None else pump.pulsation_share
    nearest_ml = math.hypot(pump.ml_per_count / 2.0, pulsation / math.sqrt(2.0) * roller_ml)
    root_ml = min(nearest_ml, roller_ml / 2.0)
    scatter_ml = root_ml / math.sqrt(MOST_SCATTER**2 - REPEATS_WITHIN**2)
    return max(scatter_ml, (root_ml + START_ML) / MOST_BIAS)


def whole_roller_floor_ml(pump: Pump) -> float:
    """Return the smallest dose of whole rollers, mL, that is off by 2 % at the most.

    For whoever may choose the amount, as a trim may: the start angle does nothing to it, nothing is rounded.
    """
    roller_ml = pump.counts_per_roller * pump.ml_per_count
    return math.ceil(START_ML / MOST_BIAS / roller_ml) * roller_ml


def floor_findings(site: Site, recipe: Recipe, portions: tuple[Portion, ...]) -> Iterator[PlanWarning]:
    """Question every planned dose, and every `min_dose` of this recipe's pumps, below what can be metered."""
    for addition, portion in zip(recipe.additions, portions, strict=True):
        pump = site.rig.pumps[site.inputs[addition.input].pump]
        if pump.min_dose_ml <= portion.ml < dose_floor_ml(pump):
            yield PlanWarning(
                Rule.SMALLEST_DOSE,
                f"{plain_ml(portion.ml)} of {addition.input}: pump {pump.name} meters no less than "
                f"{plain_ml(dose_floor_ml(pump), 3)} {WELL} ({_why(pump)}); mix more at once, dilute the "
                "stock and raise its rate to match, or use a finer pump",
            )
    low = [
        (pump, floor_ml) for pump, floor_ml in _floors(site, recipe, portions) if pump.min_dose_ml < floor_ml
    ]
    if low:
        listed = ", ".join(
            f"pumps.{pump.name}.min_dose is {plain_ml(pump.min_dose_ml)}, its floor {plain_ml(floor_ml, 3)} "
            f"({_why(pump)})"
            for pump, floor_ml in low
        )
        yield PlanWarning(
            Rule.SMALLEST_DOSE, f"rig.toml allows doses that are not metered {WELL}: {listed}; raise it"
        )


def _floors(site: Site, recipe: Recipe, portions: tuple[Portion, ...]) -> Iterator[tuple[Pump, float]]:
    """Give each pump of a recipe with its floor; one that only trims is asked for whole rollers."""
    dosing = {site.inputs[addition.input].pump for addition in recipe.additions}
    if portions:
        dosing.add(site.rig.manifold.rinse_pump)
    trims = (recipe.trim_acid, recipe.trim_base)
    trimming = {site.inputs[name].pump for name in trims if name is not None and name in site.inputs}
    for name, pump in site.rig.pumps.items():
        if name in dosing:
            yield pump, dose_floor_ml(pump)
        elif name in trimming:
            yield pump, whole_roller_floor_ml(pump)


def _why(pump: Pump) -> str:
    roller_ml = pump.counts_per_roller * pump.ml_per_count
    known = pump.pulsation_share is not None
    share = pump.pulsation_share if pump.pulsation_share is not None else PULSATION_SHARE
    return (
        f"{plain_ml(roller_ml, 3)} a roller, pulsation {plain_number(share * 100.0, 3)} %"
        f"{'' if known else ', assumed'}"
    )
