"""`tankhand calibrate pump`: weigh what a pump delivers, and write what was found if that is wanted.

Only options and the answer live here: moving is `controller.service.pump_bench`, arithmetic
`controller.measure`.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from controller.cli.answer import print_json
from controller.cli.board.line import port_option
from controller.cli.errors import FAILED, FAULT_OF_USE
from controller.cli.options import (
    WholeNumber,
    json_option,
    load_chosen_site,
    quantity_in,
    seed_option,
    site_option,
)
from controller.cli.state_folder import LIVE, SIMULATED, folder_for_a_night, state_folder
from controller.cli.stop import nothing_begun
from controller.measure.weighing_table import COLUMNS, EXAMPLE

if TYPE_CHECKING:
    from controller.cli.calibrate.pump_job import Job

WIRED, SIM = "hardware", "sim"
WATER, INPUT = "water", "input"
Function = TypeVar("Function", bound=Callable[..., Any])


def _print_example(ctx: click.Context, param: click.Parameter, wanted: bool) -> None:
    if wanted and not ctx.resilient_parsing:
        click.echo(EXAMPLE, nl=False)
        ctx.exit()


def weighing_options(function: Function) -> Function:
    """Give a command what is told of liquid, air and balance."""
    options = (
        click.option(
            "--liquid",
            type=click.Choice([WATER, INPUT]),
            default=WATER,
            show_default=True,
            help="What is weighed: water from a jug, or the pump's own input.",
        ),
        click.option(
            "--density",
            callback=quantity_in("KILOGRAMS_PER_LITRE"),
            metavar="KG/L",
            help='Measured density of the input, e.g. "1.15 kg/L" (default: the one in inputs.toml).',
        ),
        click.option(
            "--liquid-temperature",
            callback=quantity_in("DEGREES_CELSIUS"),
            default="20 °C",
            show_default=True,
            metavar="T",
            help="Temperature of the liquid.",
        ),
        click.option(
            "--air-pressure",
            type=click.FloatRange(600, 1100),
            default=1013.25,
            show_default=True,
            metavar="HPA",
            help="Air pressure where you weigh, not reduced to sea level, hPa.",
        ),
        click.option(
            "--readability",
            type=click.FloatRange(0.0001, 1.0),
            default=0.01,
            show_default=True,
            metavar="G",
            help="Last digit of the balance, g.",
        ),
    )
    for option in reversed(options):
        function = option(function)
    return function


@click.command(epilog=f"Columns of --from-weighings: {COLUMNS}.")
@click.argument("name")
@site_option
@click.option("--state", type=click.Path(path_type=Path), metavar="DIR", help="Folder of the record.")
@click.option(
    "--rig",
    type=click.Choice([WIRED, SIM]),
    default=WIRED,
    show_default=True,
    help="The wired rig and you at the balance; or a simulated one with a simulated person.",
)
@port_option
@seed_option("Seed of a simulated rig.")
@click.option(
    "--from-weighings",
    "table",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Use weighings that were written down (CSV); nothing moves.",
)
@click.option(
    "--example",
    is_flag=True,
    is_eager=True,
    expose_value=False,
    callback=_print_example,
    help="Print an example of such a file and end.",
)
@weighing_options
@click.option(
    "--deliveries",
    type=WholeNumber(min=5, max=30),
    default=10,
    show_default=True,
    metavar="N",
    help="Deliveries of each of the three volumes.",
)
@click.option(
    "--new-tube", is_flag=True, help="The tube was changed: do not hold it against its old setting."
)
@click.option("--by", metavar="NAME", help="Who weighs (default: the user of this computer).")
@click.option(
    "--write", is_flag=True, help="Write what was found into rig.toml if it passed, without asking."
)
@json_option
def pump(name: str, as_json: bool, **options: Any) -> None:
    """Calibrate the pump NAME by weighing: three volumes, ten deliveries each.

    The pump is primed into a beaker, then every delivery is moved and you type its grams. TARE the balance
    before each delivery, so that every number is the weight of that delivery alone. Nothing goes into the
    tank. The calibration is shown and kept in the record; rig.toml changes only if you say so.
    """
    from controller.cli.calibrate.kept import refuse_demo
    from controller.cli.calibrate.pump_job import NotUsable, job_of

    with nothing_begun():
        site = load_chosen_site(options["site"])
        job = job_of(site, name, options)
        refuse_demo(job.site.folder if job.own_site else None, job.write)
    folder = options["state"] or state_folder(LIVE if job.rig_name != SIM else SIMULATED)
    with folder_for_a_night(folder):
        try:
            page = job.run(folder)
        except NotUsable as refused:
            click.echo(str(refused), err=True)
            raise click.exceptions.Exit(FAULT_OF_USE) from None
        finally:
            kept = job.kept_words()
            if kept is not None:
                click.echo(kept, err=True)
        if as_json:
            print_json(page)
        else:
            from controller.cli.calibrate.pump_words import show

            show(page)
        _write_if_wanted(job, page, as_json=as_json)
    if not page["passed"]:
        raise click.exceptions.Exit(FAILED)


def _write_if_wanted(job: Job, page: dict[str, object], *, as_json: bool) -> None:
    """Write rig.toml when it passed and somebody wants it; say what else is then to be done."""
    if not page["passed"]:
        click.echo("Nothing is written into rig.toml.", err=True)
        return
    wanted = job.write
    if not wanted and not as_json and job.may_write and sys.stdin is not None and sys.stdin.isatty():
        wanted = click.confirm("Write this into rig.toml?", default=False, err=True)
    if not wanted:
        click.echo("rig.toml is as it was; --write changes it.", err=True)
        return
    kept, board_differs = job.write_rig()
    click.echo(f"rig.toml is changed; the old one is {kept.name} beside it.", err=True)
    if board_differs:
        click.echo(
            "The board counts its caps by this: run `tankhand board limits write` before the next night.",
            err=True,
        )
