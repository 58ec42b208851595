"""The heel: how much of an earlier batch may stay, how old, and what it may hold.

Nobody tells a plan which batch the heel came from, so anything that any recipe could have left counts.
"""

from __future__ import annotations

from collections.abc import Iterator

from controller.plan.findings import Finding, Refusal, Rule
from controller.plan.steps import PlanWarning
from controller.plan.tonight import Tonight
from controller.plan.words import plain_l
from controller.settings.values import Recipe, Site


def heel_findings(site: Site, recipe: Recipe, tonight: Tonight) -> Iterator[Finding]:
    """Refuse a heel too large or too old; warn of an age nobody knows, and of what it may hold."""
    rule = site.policy.heel
    if tonight.heel_l <= 0:
        return
    if tonight.heel_l > rule.max_l:
        yield Refusal(
            Rule.HEEL,
            "heel",
            f"{plain_l(tonight.heel_l)}, at most {plain_l(rule.max_l)} may stay",
            "drain the tank",
        )
    if tonight.heel_age_s is None:
        yield PlanWarning(
            Rule.HEEL,
            f"nobody said how old the heel is, and at most {rule.max_age_s / 3600:.1f} h may stay: drain the "
            f"tank if it is older",
        )
    elif tonight.heel_age_s > rule.max_age_s:
        yield Refusal(
            Rule.HEEL,
            "age of the heel",
            f"{tonight.heel_age_s / 3600:.1f} h, at most {rule.max_age_s / 3600:.1f} h may stay",
            "drain the tank",
        )
    yield from _may_hold(site, recipe)


def heel_may_foam_or_live(site: Site) -> bool:
    """Say whether any recipe of this site could have left something foaming or living in the tank."""
    return any(
        site.inputs[addition.input].foams or site.inputs[addition.input].living
        for recipe in site.recipes.values()
        for addition in recipe.additions
    )


def _may_hold(site: Site, recipe: Recipe) -> Iterator[PlanWarning]:
    inputs = [site.inputs[addition.input] for addition in recipe.additions]
    if heel_may_foam_or_live(site) and site.rig.air_pump:
        yield PlanWarning(
            Rule.HEEL_UNKNOWN,
            "the heel may hold a foaming or living input of an earlier batch: the air stays off all night",
        )
    if any(liquid.oxidiser for liquid in inputs) and any(liquid.living for liquid in site.inputs.values()):
        yield PlanWarning(
            Rule.HEEL_UNKNOWN,
            "the heel may hold a living input, and tonight's oxidiser would kill it: drain the heel if so",
        )
    if any(liquid.living for liquid in inputs) and any(liquid.oxidiser for liquid in site.inputs.values()):
        yield PlanWarning(
            Rule.HEEL_UNKNOWN,
            "the heel may hold an oxidiser, which would kill tonight's living input: drain the heel if so",
        )
