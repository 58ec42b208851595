"""One night's plan: judge everything, and either refuse with every reason at once or return the whole plan.

The rules and the arithmetic are in the files beside this one; here they are only asked, in turn.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterator

from controller.plan.additions import planned_additions, portions_of
from controller.plan.air import air_findings
from controller.plan.amounts import added_l
from controller.plan.counted_only import counted_only_findings
from controller.plan.dose_floor import floor_findings
from controller.plan.findings import Finding, PlanRefused, Refusal, Rule, refusals_of, refuse_if_any
from controller.plan.heel import heel_findings
from controller.plan.limits import pump_findings, tank_findings, trim_findings, water_findings
from controller.plan.mixing import mixing_findings
from controller.plan.night import night_steps
from controller.plan.order import order_findings
from controller.plan.pace import pace_findings
from controller.plan.reserve import trim_reserve_l
from controller.plan.rinsing import rinse_findings
from controller.plan.slips import slip_findings
from controller.plan.steps import Plan
from controller.plan.stock import stock_findings
from controller.plan.times import duration_s, floor_s
from controller.plan.tonight import Tonight, figure_findings
from controller.plan.water import share_water
from controller.settings.faults import plain
from controller.settings.values import Recipe, Site

__all__ = ["PlanRefused", "Refusal", "find_recipe", "plan_batch"]

LONGEST_NAME = 60


def plan_batch(site: Site, recipe_name: str, tonight: Tonight) -> Plan:
    """Plan one night. Raises PlanRefused with every reason at once."""
    recipe = find_recipe(site, recipe_name)
    final_l = recipe.final_l if tonight.final_l is None else tonight.final_l
    found = tuple(_findings(site, recipe, tonight, final_l))
    if not _amounts_mean_something(found, tonight, final_l):
        raise PlanRefused(refusals_of(found))
    extra_l = added_l(final_l, tonight.heel_l)
    portions = portions_of(site, recipe, tonight, extra_l)
    reserve_l = trim_reserve_l(site, recipe, final_l)
    shares = share_water(recipe, final_l, tonight.heel_l, portions, reserve_l)
    judged = (
        *stock_findings(site, recipe, tonight, extra_l, final_l),
        *water_findings(site, recipe, shares),
        *pump_findings(site, recipe, portions),
        *floor_findings(site, recipe, portions),
        *pace_findings(site, recipe),
        *trim_findings(site, recipe, shares, portions),
        *counted_only_findings(site, recipe, portions, tonight.heel_l),
    )
    warnings = refuse_if_any((*found, *judged))
    additions = planned_additions(site, recipe, shares, portions)
    steps = night_steps(site, recipe, shares, additions)
    return Plan(
        recipe=recipe.name,
        title=recipe.title,
        final_l=final_l,
        heel_l=tonight.heel_l,
        water_l=shares.water_l,
        rinse_l=shares.rinse_l,
        reserve_l=shares.reserve_l,
        additions=additions,
        steps=steps,
        duration_s=duration_s(steps),
        floor_s=floor_s(steps),
        ph_low=recipe.ph_low,
        ph_high=recipe.ph_high,
        warnings=warnings,
    )


def find_recipe(site: Site, recipe_name: str) -> Recipe:
    """Return a recipe by name. Raises PlanRefused that names the nearest one."""
    if recipe_name in site.recipes:
        return site.recipes[recipe_name]
    near = difflib.get_close_matches(recipe_name[:LONGEST_NAME], site.recipes, n=1, cutoff=0.0)
    known = ", ".join(sorted(site.recipes)) or "none"
    hint = f"did you mean {near[0]}? known: {known}" if near else f"known recipes: {known}"
    raise PlanRefused((Refusal(Rule.RECIPE, "recipe", plain(recipe_name[:LONGEST_NAME]), hint),))


def _findings(site: Site, recipe: Recipe, tonight: Tonight, final_l: float) -> Iterator[Finding]:
    """Judge everything that can be judged before any amount is known."""
    figures = tuple(figure_findings(tonight))
    yield from figures
    yield from rinse_findings(site)
    yield from order_findings(site, recipe)
    yield from slip_findings(site, recipe)
    yield from air_findings(site, recipe)
    yield from mixing_findings(site)
    if figures:
        return
    yield from tank_findings(site, tonight, final_l)
    yield from heel_findings(site, recipe, tonight)


def _amounts_mean_something(found: tuple[Finding, ...], tonight: Tonight, final_l: float) -> bool:
    """Say whether the figures are possible, a rinse can do its work and something is added."""
    spoilt = any(finding.rule in (Rule.FIGURES, Rule.RINSE) for finding in found)
    return not spoilt and final_l > tonight.heel_l
