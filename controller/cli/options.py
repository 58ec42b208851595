"""The options that many commands share, and what stands in when they are not given.

No command lives here. The rooms behind an option are imported late, because those imports are slow.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from controller.cli.state_folder import SIMULATED, state_folder
from controller.record.place import RECORD_FILE

if TYPE_CHECKING:
    from controller.settings.values import Site

Function = TypeVar("Function", bound=Callable[..., Any])


def site_option(function: Function) -> Function:
    """Give a command `--site DIR`; the demo site stands in when it is not given."""
    return click.option(
        "--site",
        type=click.Path(path_type=Path),
        metavar="DIR",
        help="Folder with rig.toml, inputs.toml, site.toml and recipes/ (default: the demo site).",
    )(function)


def recipe_option(function: Function) -> Function:
    """Give a command `--recipe NAME`."""
    return click.option(
        "--recipe",
        metavar="NAME",
        help="Recipe to mix (default: the one of the schedule's first night).",
    )(function)


def json_option(function: Function) -> Function:
    """Give a command `--json`: one JSON object on stdout and nothing else."""
    return click.option(
        "--json", "as_json", is_flag=True, help="Print one JSON object and nothing else on stdout."
    )(function)


class WholeNumber(click.IntRange):
    """A whole number within bounds, by a name that a person would use."""

    name = "whole number"


def seed_option(meaning: str) -> Callable[[Function], Function]:
    """Give a command `--seed N`."""
    return click.option(
        "--seed",
        type=WholeNumber(min=0, max=2**63 - 1),
        metavar="N",
        default=1,
        show_default=True,
        help=meaning,
    )


def state_option(function: Function) -> Function:
    """Give a command `--state DIR`; where simulated nights are kept stands in when it is not given."""
    return click.option(
        "--state",
        type=click.Path(path_type=Path),
        callback=lambda _ctx, _param, folder: state_folder(SIMULATED) if folder is None else folder,
        metavar="DIR",
        help=f"Folder with {RECORD_FILE} (default: tankhand/simulated in $XDG_STATE_HOME or ~/.local/state).",
    )(function)


def chosen_folder(folder: Path | None) -> Path:
    """Give the folder of the chosen site, or of the demo site."""
    from controller.settings.load import demo_site_folder

    return demo_site_folder() if folder is None else folder


def load_chosen_site(folder: Path | None) -> Site:
    """Read the chosen site, or the demo site; raises SiteFaults."""
    from controller.settings.load import load_site

    return load_site(chosen_folder(folder))


def known_recipe(site: Site, name: str | None) -> str:
    """Give back the name of a recipe of this site; None stands for the one of the schedule's first night.

    Raises a usage error that names the nearest recipe.
    """
    if name is None:
        if not site.policy.nights:
            raise click.UsageError("The schedule of this site is empty: name a recipe with --recipe.")
        return site.policy.nights[0].recipe
    if name not in site.recipes:
        from controller.settings.faults import nearest, plain

        hint = nearest(name, site.recipes)
        message = f'"{plain(name)}" is no recipe of this site; {hint}.'
        raise click.BadParameter(message, param_hint="'--recipe'")
    return name


Reader = Callable[[click.Context, click.Parameter, str | None], float | None]


def quantity_in(kind: str) -> Reader:
    """Make the callback of an option that is a quantity with its unit, read as the settings files are.

    `kind` is a name in `controller.settings.wanted`: the unit of the number, and its bounds.
    The callback raises a usage error that says what is wrong with the text.
    """

    def read_quantity(ctx: click.Context, param: click.Parameter, text: str | None) -> float | None:
        if text is None:
            return None
        from controller.settings import wanted
        from controller.settings.faults import Refused, plain
        from controller.settings.quantity import read

        try:
            return read(text, getattr(wanted, kind)).value
        except Refused as refused:
            message = f'"{plain(text)}" {refused.problem}; {refused.remedy}.'
            raise click.BadParameter(message, ctx, param) from None

    return read_quantity
