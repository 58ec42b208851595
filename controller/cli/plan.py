"""`tankhand plan`: the night as amounts and steps, before anything moves.

Only the asking lives here; the plan is made by `controller.plan`, its look is `plan_view.py`.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import click

from controller.cli.answer import print_json
from controller.cli.site_option import (
    json_option,
    known_recipe,
    load_chosen_site,
    recipe_option,
    site_option,
    volume_in,
)


@click.command()
@site_option
@recipe_option
@click.option(
    "--volume", "final_l", callback=volume_in("LITRES"), metavar='"150 L"', help="Final volume of feed."
)
@click.option(
    "--heel", "heel_l", callback=volume_in("LITRES_OR_NONE"), metavar='"12 L"', help="Feed left in the tank."
)
@click.option("--by-hand", is_flag=True, help="Print a card for mixing without the rig.")
@click.option(
    "--vessel",
    "vessel_ml",
    callback=volume_in("MILLILITRES"),
    metavar='"500 mL"',
    help="With --by-hand: the measuring vessel that is there.",
)
@json_option
def plan(
    site: Path | None,
    recipe: str | None,
    final_l: float | None,
    heel_l: float | None,
    by_hand: bool,
    vessel_ml: float | None,
    as_json: bool,
) -> None:
    """Work out a night's amounts, order and times; nothing moves."""
    refuse_misfits(by_hand, heel_l, vessel_ml)
    checked = load_chosen_site(site)
    name = known_recipe(checked, recipe)

    from controller.plan.as_json import plan_as_json
    from controller.plan.batch import plan_batch
    from controller.plan.tonight import tonight_from

    tonight = replace(tonight_from(checked), heel_l=heel_l or 0.0, final_l=final_l)
    night = plan_batch(checked, name, tonight)
    if as_json:
        print_json(plan_as_json(night))
    else:
        from controller.cli.plan_view import show_plan

        show_plan(night)


def refuse_misfits(by_hand: bool, heel_l: float | None, vessel_ml: float | None) -> None:
    """Raise a usage error for options that do not go together."""
    if vessel_ml is not None and not by_hand:
        raise click.UsageError("--vessel belongs to --by-hand: the rig measures without a vessel.")
    if heel_l is not None and by_hand:
        raise click.UsageError("--heel does not go with --by-hand: the card starts from an empty tank.")
