"""Whether the bottles hold enough within reach of the tube, and what the site's policy makes of a short one.

A short bottle is either refused, or used up when what is missing is within the site's tolerance.
"""

from __future__ import annotations

from collections.abc import Iterator

from controller.plan.amounts import amount_ml
from controller.plan.findings import Finding, Refusal, Rule
from controller.plan.steps import PlanWarning
from controller.plan.tonight import Tonight, stock_of, usable_ml
from controller.plan.words import CLOSE, plain_l, plain_ml
from controller.settings.values import Input, Recipe, ShortStock, Site, StockRule

FILL = (
    "fill the bottle and write its content as `stock` in inputs.toml, or lower its tube and write what that "
    "leaves as `unreachable`"
)
# Content less what is out of reach may miss the exact need by a rounding of floats.
ROUNDING_ML = 1e-6

METERED_SHARE = 0.02
"""Closer to its target than this no dose is asked to be (common practice, no source: a calibrated pump)."""
OVER_SHARE = 0.10
"""A dose this far above its target is doubtful: labels round that far (common practice, no source)."""


def allowed_short_share(rule: StockRule) -> float:
    """Return the share of a dose that may be missing by weight after it has been topped up.

    A site that refuses short stock allows what a pump cannot meter closer; one that lets a dose be short
    allows its tolerance, if that is more.
    """
    if rule.short is ShortStock.REFUSE:
        return METERED_SHARE
    return max(rule.tolerance, METERED_SHARE)


def may_be_short(rule: StockRule, need_ml: float, have_ml: float) -> bool:
    """Say whether the site's policy lets a dose of `need_ml` go on with `have_ml` within reach."""
    return rule.short is ShortStock.WITHIN_TOLERANCE and have_ml >= need_ml * (1.0 - rule.tolerance)


def dosed_ml(rule: StockRule, need_ml: float, have_ml: float) -> float:
    """Return what is dosed, mL: the whole amount, or all in reach where policy lets it be short."""
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
        need_ml, have_ml = amount_ml(addition.rate_ml_l, added_l), usable_ml(tonight, liquid)
        if have_ml >= need_ml - ROUNDING_ML:
            continue
        value = f"{_within_reach(tonight, liquid, have_ml)}, {plain_ml(need_ml, CLOSE)} needed"
        if may_be_short(rule, need_ml, have_ml):
            yield PlanWarning(
                Rule.STOCK,
                f"{liquid.name}: {value}; all within reach is used up, as the site allows",
            )
        else:
            yield Refusal(
                Rule.STOCK,
                liquid.name,
                value,
                f"{FILL}, or mix less than {plain_l(final_l)}",
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
        liquid = site.inputs[name]
        left_ml = max(usable_ml(tonight, liquid) - taken_ml.get(name, 0.0), 0.0)
        first_ml, cap_ml = policy.first_dose_ml_l * final_l, policy.cap_ml_l * final_l
        if left_ml < first_ml:
            yield Refusal(
                Rule.TRIM_STOCK,
                f"{name} for the pH trim",
                f"{_within_reach(tonight, liquid, left_ml)}, the first dose is {plain_ml(first_ml, CLOSE)}",
                FILL,
            )
        elif left_ml < cap_ml:
            yield PlanWarning(
                Rule.TRIM_STOCK,
                f"{name}: {_within_reach(tonight, liquid, left_ml)}, and the trims of a night may take up to "
                f"{plain_ml(cap_ml, CLOSE)} (`trim.cap` in site.toml): {FILL}",
            )


def _within_reach(tonight: Tonight, liquid: Input, left_ml: float) -> str:
    """Say what the tube can still have, and of what: the two figures of inputs.toml."""
    return (
        f"{plain_ml(left_ml, CLOSE)} within reach ({plain_ml(stock_of(tonight, liquid), CLOSE)} in the "
        f"bottle, of which {plain_ml(liquid.unreachable_ml)} lie below the tube)"
    )
