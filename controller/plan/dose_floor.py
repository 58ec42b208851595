"""The smallest doses that a pump can honestly meter, and what is told of a plan or a `min_dose` below them.

There are two. An addition is judged by its amount, and the plan refuses one below `dose_floor_ml`. A trim is
judged by the pH that follows, and a top-up by the whole dose that it completes: they may be smaller, down to
`min_dose`, which is questioned below `whole_roller_floor_ml`. What refuses a dose below `min_dose` is
`limits.py`; how many counts a dose takes and how far it may be off is said by the room that meters.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from controller.plan.findings import Finding, Refusal, Rule
from controller.plan.steps import PlanWarning
from controller.plan.water import Portion
from controller.plan.words import plain_ml
from controller.settings.numbers import plain_number
from controller.settings.values import Pump, Recipe, Site

SMALL_ML = 5.0
"""Below it a dose may be off, and scatter, by twice as much."""
MOST_SCATTER, MOST_SCATTER_SMALL = 0.005, 0.01
"""A dose's coefficient of variation at the most."""
MOST_BIAS, MOST_BIAS_SMALL = 0.01, 0.02
"""How far a dose may be off on the mean at the most, as a share."""
REPEATS_WITHIN = 0.004
"""Standard deviation of a dose of whole rollers (assumed: a sound tube; short runs are told to repeat within
0.5 to 1 %, from memory, and with 0.5 % no dose of 5 mL or more would hold its scatter, however large)."""
WEIGHED_WITHIN = 0.0015
"""Standard deviation by which pumps differ just after their weighing (assumed: ten deliveries a volume)."""
START_ML = 0.0145
"""Standard uncertainty of what a start gives beyond its counts: half a drop of 0.05 mL (from memory)."""
PULSATION_SHARE = 0.25
"""Stand-in for a pump whose pulsation nobody measured (assumed, meant to be cautious)."""
ROUNDING = 1e-9
"""Whole rollers may miss the number that is written by a rounding of floats."""
WELL = "within 1 % and with 0.5 % of scatter (below 5 mL: 2 % and 1 %)"


def dose_floor_ml(pump: Pump) -> float:
    """Return the amount, mL, from which on any dose is within the bars for its size.

    The counts of a dose are chosen for the least expected squared error. That is no worse than it is for the
    nearest count half-way between two rollers: half a count of rounding, and a standard deviation of
    pulsation / sqrt(2) rollers by the start angle, for a sine that runs ahead of its mean and behind it by
    half of the pulsation. Nor is it worse than for whole rollers. Either error alone is at most that root.

    Repeatability and weighing leave pulsation some 0.26 % of a dose of 5 mL and more: a pump of 0.4 mL a
    roller and 13 % of pulsation meters no less than 17 mL. One so fine that it is good from below 5 mL on has
    the floor that the wider bars give it.
    """
    roller_ml = pump.counts_per_roller * pump.ml_per_count
    pulsation = PULSATION_SHARE if pump.pulsation_share is None else pump.pulsation_share
    nearest_ml = math.hypot(pump.ml_per_count / 2.0, pulsation / math.sqrt(2.0) * roller_ml)
    root_ml = min(nearest_ml, roller_ml / 2.0)
    from_ml = _good_from_ml(root_ml, MOST_SCATTER, MOST_BIAS)
    return from_ml if from_ml > SMALL_ML else _good_from_ml(root_ml, MOST_SCATTER_SMALL, MOST_BIAS_SMALL)


def _good_from_ml(root_ml: float, most_scatter: float, most_bias: float) -> float:
    """Return from which dose on an error of `root_ml` is within both bars."""
    left = math.sqrt(most_scatter**2 - REPEATS_WITHIN**2 - WEIGHED_WITHIN**2)
    return max(root_ml / left, (root_ml + START_ML) / most_bias)


def whole_roller_floor_ml(pump: Pump) -> float:
    """Return the smallest dose of whole rollers, mL, that is off by 2 % at the most.

    For whoever may choose the amount, as a trim may: the start angle does nothing to it, nothing is rounded.
    """
    roller_ml = pump.counts_per_roller * pump.ml_per_count
    return math.ceil(START_ML / MOST_BIAS_SMALL / roller_ml) * roller_ml


def floor_findings(site: Site, recipe: Recipe, portions: tuple[Portion, ...]) -> Iterator[Finding]:
    """Refuse each addition, and question each `min_dose` of this recipe's pumps, below its floor."""
    for addition, portion in zip(recipe.additions, portions, strict=True):
        pump = site.rig.pumps[site.inputs[addition.input].pump]
        if pump.min_dose_ml <= portion.ml < dose_floor_ml(pump):
            yield Refusal(
                Rule.SMALLEST_DOSE,
                f"{addition.input} on pump {pump.name}",
                f"{plain_ml(portion.ml)}, and from {plain_ml(dose_floor_ml(pump), 3)} on it meters {WELL}: "
                f"{_why(pump)}",
                "mix more at once, dilute the stock and raise its rate to match, or use a finer pump",
            )
    low = [
        (pump, whole_roller_floor_ml(pump))
        for pump in _pumps_of(site, recipe, portions)
        if pump.min_dose_ml < whole_roller_floor_ml(pump) * (1.0 - ROUNDING)
    ]
    if low:
        listed = ", ".join(
            f"pumps.{pump.name}.min_dose is {plain_ml(pump.min_dose_ml)}, its floor {plain_ml(floor_ml, 3)}"
            for pump, floor_ml in low
        )
        yield PlanWarning(
            Rule.SMALLEST_DOSE,
            f"rig.toml allows doses of which half a drop is more than 2 %: {listed}; raise it",
        )


def _pumps_of(site: Site, recipe: Recipe, portions: tuple[Portion, ...]) -> Iterator[Pump]:
    """Give each pump that a recipe may use."""
    wanted = (*(addition.input for addition in recipe.additions), recipe.trim_acid, recipe.trim_base)
    names = {site.inputs[name].pump for name in wanted if name is not None and name in site.inputs}
    if portions:
        names.add(site.rig.manifold.rinse_pump)
    return (pump for name, pump in site.rig.pumps.items() if name in names)


def _why(pump: Pump) -> str:
    roller_ml = pump.counts_per_roller * pump.ml_per_count
    known = pump.pulsation_share is not None
    share = pump.pulsation_share if pump.pulsation_share is not None else PULSATION_SHARE
    return (
        f"{plain_ml(roller_ml, 3)} a roller, pulsation {plain_number(share * 100.0, 3)} %"
        f"{'' if known else ', assumed'}"
    )
