"""When the air pump may run: only where one is fitted, and nothing in the tank foams or lives."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from controller.plan.findings import Rule
from controller.plan.heel import heel_may_foam_or_live
from controller.plan.steps import PlanWarning
from controller.settings.values import Input, Recipe, Site


def air_allowed(site: Site, in_tank: Iterable[Input], heel_l: float) -> bool:
    """Say whether air may run with these inputs in the tank, and a heel whose content nobody knows."""
    if heel_l > 0 and heel_may_foam_or_live(site):
        return False
    return site.rig.air_pump and not any(liquid.foams or liquid.living for liquid in in_tank)


def air_findings(site: Site, recipe: Recipe) -> Iterator[PlanWarning]:
    """Warn that air, which the site has, stays off from the first foamer onward."""
    if not site.rig.air_pump:
        return
    for addition in recipe.additions:
        if site.inputs[addition.input].foams:
            yield PlanWarning(Rule.FOAM, f"{addition.input} foams: the air stays off from its dose onward")
            return
