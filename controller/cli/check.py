"""`tankhand check`: everything that is wrong in a site's files, and whether every recipe can be planned.

Only the asking and the wording live here; the judging is done by `controller.settings` and `controller.plan`.
"""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

import click

from controller.cli.answer import print_json
from controller.cli.errors import FAULT_OF_USE
from controller.cli.options import json_option, load_chosen_site, site_option

if TYPE_CHECKING:
    from controller.plan.findings import Refusal
    from controller.plan.steps import Plan
    from controller.settings.faults import SiteFaults
    from controller.settings.values import Site


@click.command()
@site_option
@json_option
def check(site: Path | None, as_json: bool) -> None:
    """Read a site's files and plan every recipe; say what is good and all that is not.

    Exit code 2 when a file is faulty or a recipe cannot be planned.
    """
    from controller.settings.faults import SiteFaults

    try:
        checked = load_chosen_site(site)
    except SiteFaults as faults:
        if not as_json:
            raise
        print_json(faults_as_json(faults))
        raise click.exceptions.Exit(FAULT_OF_USE) from faults
    judged = {name: planned(checked, name) for name in sorted(checked.recipes)}
    if as_json:
        print_json(judged_as_json(checked, judged))
    else:
        for line in site_lines(checked):
            click.echo(line)
        for name, plan in judged.items():
            for line in recipe_lines(name, plan):
                click.echo(line)
    if any(isinstance(plan, tuple) for plan in judged.values()):
        raise click.exceptions.Exit(FAULT_OF_USE)


def planned(site: Site, recipe: str) -> Plan | tuple[Refusal, ...]:
    """Plan one recipe on an empty tank with the bottles as the files say, or give every reason against it."""
    from controller.plan.batch import PlanRefused, plan_batch
    from controller.plan.tonight import tonight_from

    try:
        return plan_batch(site, recipe, tonight_from(site))
    except PlanRefused as refused:
        return refused.faults


def site_lines(site: Site) -> list[str]:
    """Say what was read and found good."""
    rig, policy = site.rig, site.policy
    return [
        f"{policy.title} ({policy.name}), {site.folder}",
        f"good: rig.toml, {len(rig.pumps)} pumps, tank of {rig.tank.working_l:g} L",
        f"good: inputs.toml, {len(site.inputs)} inputs",
        f"good: site.toml, {len(policy.nights)} lines of schedule",
        f"good: recipes, {len(site.recipes)} files",
    ]


def recipe_lines(name: str, plan: Plan | tuple[Refusal, ...]) -> list[str]:
    """Say whether a recipe can be planned, with its warnings or every reason against it."""
    from controller.record.words import duration, litres

    if isinstance(plan, tuple):
        return [f"refused: recipe {name}: {refusal.line()}" for refusal in plan]
    good = f"good: recipe {name}: {litres(plan.final_l)} in {duration(plan.duration_s)}"
    return [good, *(f"  warning ({warning.rule}): {warning.text}" for warning in plan.warnings)]


def faults_as_json(faults: SiteFaults) -> dict[str, object]:
    """Give the answer for a site that could not be read."""
    return {"good": False, "faults": [asdict(fault) for fault in faults.faults], "recipes": []}


def judged_as_json(site: Site, judged: dict[str, Plan | tuple[Refusal, ...]]) -> dict[str, object]:
    """Give the answer for a site that was read, with each recipe's refusals and warnings."""
    recipes: list[dict[str, object]] = []
    for name, plan in judged.items():
        refused = plan if isinstance(plan, tuple) else ()
        warnings = () if isinstance(plan, tuple) else plan.warnings
        recipes.append(
            {
                "recipe": name,
                "good": not refused,
                "refusals": [asdict(refusal) for refusal in refused],
                "warnings": [asdict(warning) for warning in warnings],
            }
        )
    good = all(recipe["good"] for recipe in recipes)
    return {"good": good, "site": site.policy.name, "faults": [], "recipes": recipes}
