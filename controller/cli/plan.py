"""`tankhand plan`: the night as amounts and steps, before anything moves.

Only the asking lives here; the plan is made by `controller.plan`, its look is `plan_view.py`.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from controller.cli.answer import print_json
from controller.cli.options import (
    json_option,
    known_recipe,
    load_chosen_site,
    quantity_in,
    recipe_option,
    site_option,
)

if TYPE_CHECKING:
    from controller.plan.tonight import Tonight
    from controller.settings.values import Site


@click.command()
@site_option
@recipe_option
@click.option(
    "--volume", "final_l", callback=quantity_in("LITRES"), metavar='"150 L"', help="Final volume of feed."
)
@click.option(
    "--heel",
    "heel_l",
    callback=quantity_in("LITRES_OR_NONE"),
    metavar='"12 L"',
    help="Feed left in the tank.",
)
@click.option(
    "--heel-age",
    "heel_age_s",
    callback=quantity_in("SECONDS_OR_NONE"),
    metavar='"12 h"',
    help="With --heel: how long ago that feed was mixed. One too old for the site's rule is refused; "
    "one of unknown age is warned of.",
)
@click.option("--by-hand", is_flag=True, help="Print a card for mixing without the rig.")
@click.option(
    "--vessel",
    "vessel_ml",
    callback=quantity_in("MILLILITRES"),
    metavar='"500 mL"',
    help="With --by-hand: the measuring vessel that is there (default: the common one that fits).",
)
@json_option
def plan(
    site: Path | None,
    recipe: str | None,
    final_l: float | None,
    heel_l: float | None,
    heel_age_s: float | None,
    by_hand: bool,
    vessel_ml: float | None,
    as_json: bool,
) -> None:
    """Work out a night's amounts, order and times; nothing moves."""
    refuse_misfits(by_hand, heel_l, heel_age_s, vessel_ml)
    checked = load_chosen_site(site)
    name = known_recipe(checked, recipe)
    if by_hand:
        volume_l = checked.recipes[name].final_l if final_l is None else final_l
        answer_by_hand(checked, name, volume_l, vessel_ml, as_json)
    else:
        from controller.plan.tonight import tonight_from

        tonight = replace(tonight_from(checked), heel_l=heel_l or 0.0, heel_age_s=heel_age_s, final_l=final_l)
        answer_for_the_rig(checked, name, tonight, as_json)


def answer_for_the_rig(site: Site, recipe: str, tonight: Tonight, as_json: bool) -> None:
    """Print the plan of a night on the rig, with every bottle as inputs.toml says."""
    from controller.plan.as_json import plan_as_json
    from controller.plan.batch import plan_batch

    night = plan_batch(site, recipe, tonight)
    if as_json:
        print_json(plan_as_json(night))
    else:
        from controller.cli.plan_view import show_plan

        show_plan(night)


def answer_by_hand(site: Site, recipe: str, volume_l: float, vessel_ml: float | None, as_json: bool) -> None:
    """Print the card for mixing the same feed without the rig, in a vessel that fits if none is given."""
    from controller.plan.by_hand import by_hand_card, card_text
    from controller.plan.vessel_choice import fitting_vessel_ml

    if vessel_ml is None:
        vessel_ml = fitting_vessel_ml(site, site.recipes[recipe], volume_l)
    card = by_hand_card(site, recipe, volume_l, vessel_ml)
    if as_json:
        from controller.plan.as_json import card_as_json

        print_json(card_as_json(card))
    else:
        click.echo(card_text(card), nl=False)


def refuse_misfits(
    by_hand: bool, heel_l: float | None, heel_age_s: float | None, vessel_ml: float | None
) -> None:
    """Raise a usage error for options that do not go together."""
    if vessel_ml is not None and not by_hand:
        raise click.UsageError("--vessel belongs to --by-hand: the rig measures without a vessel.")
    if heel_age_s is not None and heel_l is None:
        raise click.UsageError("--heel-age belongs to --heel: say how much feed was left as well.")
    if heel_l is not None and by_hand:
        raise click.UsageError("--heel does not go with --by-hand: the card starts from an empty tank.")
