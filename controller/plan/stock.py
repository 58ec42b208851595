"""Whether the bottles hold enough, and what the site's policy makes of a short one.

A short bottle is either refused, or used up when what is missing is within the site's tolerance.
"""

from __future__ import annotations

from collections.abc import Iterator

from controller.plan.amounts import amount_ml
from controller.plan.findings import Finding, Refusal, Rule
from controller.plan.steps import PlanWarning
from controller.plan.tonight import Tonight, stock_of
from controller.settings.values import Input, Recipe, ShortStock, Site, StockRule

FILL = "fill the bottle and write its content as `stock` in inputs.toml"


def may_be_short(rule: StockRule, need_ml: float, have_ml: float) -> bool:
    """Say whether the site's policy lets a dose of `need_ml` go on with a bottle of `have_ml`."""
    return rule.short is ShortStock.WITHIN_TOLERANCE and have_ml >= need_ml * (1.0 - rule.tolerance)


def dosed_ml(rule: StockRule, need_ml: float, have_ml: float) -> float:
    """Return what is dosed, mL: the whole amount, or all there is where policy lets it be short."""
    if have_ml < need_ml and may_be_short(rule, need_ml, have_ml):
        return have_ml
    return need_ml


def stock_findings(
    site: Site, recipe: Recipe, tonight: Tonight, added_l: float, final_l: float
) -> Iterator[Finding]:
    """Judge every bottle of the recipe, and the bottles of its pH trims."""
    rule = site.policy.stock
    for addition in recipe.additions:
        liquid = site.inputs[addition.input]
        need_ml, have_ml = amount_ml(addition.rate_ml_l, added_l), stock_of(tonight, liquid)
        if have_ml >= need_ml:
            continue
        value = f"{have_ml:.1f} mL in the bottle, {need_ml:.1f} mL needed"
        if may_be_short(rule, need_ml, have_ml):
            yield PlanWarning(
                Rule.STOCK, f"{liquid.name}: {value}; the bottle is used up, as the site allows"
            )
        else:
            yield Refusal(
                Rule.STOCK,
                liquid.name,
                value,
                f"{FILL}, or mix less than {final_l:g} L",
            )
    yield from _trim_stock(site, recipe, tonight, added_l, final_l)


def is_agitated(liquid: Input) -> bool:
    """Say whether the rig agitates this bottle before a dose."""
    return liquid.agitator is not None and liquid.agitate_s > 0


def _trim_stock(
    site: Site, recipe: Recipe, tonight: Tonight, added_l: float, final_l: float
) -> Iterator[Finding]:
    policy = site.policy.trim
    taken_ml = {addition.input: amount_ml(addition.rate_ml_l, added_l) for addition in recipe.additions}
    for name in dict.fromkeys((recipe.trim_acid, recipe.trim_base)):
        if name is None:
            continue
        left_ml = stock_of(tonight, site.inputs[name]) - taken_ml.get(name, 0.0)
        first_ml, cap_ml = policy.first_dose_ml_l * final_l, policy.cap_ml_l * final_l
        if left_ml < first_ml:
            yield Refusal(
                Rule.TRIM_STOCK,
                f"{name} for the pH trim",
                f"{max(left_ml, 0.0):.1f} mL in the bottle, the first dose is {first_ml:.1f} mL",
                FILL,
            )
        elif left_ml < cap_ml:
            yield PlanWarning(
                Rule.TRIM_STOCK,
                f"{name}: {left_ml:.1f} mL in the bottle, and the trims of a night may take up to "
                f"{cap_ml:.1f} mL (`trim.cap` in site.toml): {FILL}",
            )
