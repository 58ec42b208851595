"""Slips of the pen: a rate outside the label of the input, or off it by a factor of ten.

A rate a little outside is the grower's affair and is said aloud; a rate that is ten times off the middle
of the label is refused, for a tank of it does harm and the writer almost surely meant something else.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from controller.plan.findings import Finding, Refusal, Rule
from controller.plan.steps import PlanWarning
from controller.plan.words import plain_rate
from controller.settings.numbers import plain_number
from controller.settings.units import exact_factor
from controller.settings.values import Input, Recipe, RecipeAddition, Site

SLIP = 10.0
# A tank of ten-fold rates written as decimals must not pass by a rounding error.
ALMOST = 1.0 - 1e-9


def label_middle_ml_l(liquid: Input) -> float:
    """Return the middle of the label range, mL/L, in the sense of factors (the geometric mean)."""
    low = liquid.label_low_ml_l if liquid.label_low_ml_l > 0 else liquid.label_high_ml_l
    return math.sqrt(low * liquid.label_high_ml_l)


def likely_ml_l(liquid: Input, rate_ml_l: float) -> float | None:
    """Return the rate that was likely meant, mL/L: a shifted decimal point, or per gallon for per litre."""
    l_per_gal = float(exact_factor("US_gallon", "litre"))
    shifts = (1 / 10, 10.0, 1 / 100, 100.0, 1 / 1000, 1000.0, 1 / l_per_gal, l_per_gal)
    for shift in shifts:
        meant = rate_ml_l * shift
        if _on_label(liquid, meant):
            return meant
    return None


def slip_findings(site: Site, recipe: Recipe) -> Iterator[Finding]:
    """Judge every rate of a recipe against the label of its input."""
    for addition in recipe.additions:
        liquid = site.inputs[addition.input]
        if not _on_label(liquid, addition.rate_ml_l):
            yield _finding(recipe, addition, liquid)


def _on_label(liquid: Input, rate_ml_l: float) -> bool:
    return liquid.label_low_ml_l * ALMOST <= rate_ml_l <= liquid.label_high_ml_l / ALMOST


def _finding(recipe: Recipe, addition: RecipeAddition, liquid: Input) -> Finding:
    label = f"{plain_number(liquid.label_low_ml_l, 3)} to {plain_rate(liquid.label_high_ml_l)}"
    meant = likely_ml_l(liquid, addition.rate_ml_l)
    hint = f"was {plain_rate(meant)} meant?" if meant is not None else f"write a rate of {label}"
    middle = label_middle_ml_l(liquid)
    rate = addition.rate_ml_l
    written = f"{plain_rate(rate)} (written {addition.rate_text})"
    if rate >= SLIP * middle * ALMOST or rate <= middle / SLIP / ALMOST:
        return Refusal(
            Rule.FACTOR_OF_TEN,
            f"recipe {recipe.name}, {liquid.name}",
            f"{written} is a factor of ten or more off its label, {label}",
            hint,
        )
    return PlanWarning(
        Rule.LABEL,
        f"{liquid.name}: {written} is outside its label, {label}; {hint}",
    )
