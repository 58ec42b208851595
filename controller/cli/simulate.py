"""`tankhand simulate`: one night on the simulated rig, as fast as it goes.

Only the asking and the answering live here; the night itself is `sim.night`, its look is `outcome.py`.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import click

from controller.cli.answer import print_json, write_file
from controller.cli.errors import EXIT_CODES, FAILED, exit_code_of
from controller.cli.fault_option import fault_option, fault_plan, list_faults
from controller.cli.options import (
    json_option,
    known_recipe,
    load_chosen_site,
    recipe_option,
    seed_option,
    site_option,
    state_option,
)
from controller.cli.progress import progress_shown
from controller.cli.state_folder import folder_for_a_night
from controller.cli.stop import broken_off, nothing_begun, say_nothing_begun, stop_on_ctrl_c

if TYPE_CHECKING:
    from controller.settings.values import Site
    from sim.vm.board import VmBoard


@click.command(epilog=EXIT_CODES)
@site_option
@recipe_option
@seed_option(
    "Seed of everything random: the same seed gives the same night on a fresh record. On one that holds "
    "nights of this recipe, what the last one taught about pH trims is used."
)
@state_option
@click.option(
    "--report",
    type=click.Path(dir_okay=False, path_type=Path),
    metavar="FILE",
    help="Write the batch report, one HTML page, to FILE.",
)
@click.option(
    "--explain",
    type=click.Path(dir_okay=False, path_type=Path),
    metavar="FILE",
    help="Write a page to FILE, HTML, that shows true against measured values as plots.",
)
@fault_option
@click.option(
    "--rig",
    type=click.Choice(["sim", "vm"]),
    default="sim",
    show_default=True,
    help="Where the board's firmware runs: in this program (sim), or in the real MicroPython VM behind a "
    "pseudo-terminal (vm), which takes about a minute.",
)
@json_option
def simulate(
    site: Path | None,
    recipe: str | None,
    seed: int,
    state: Path,
    report: Path | None,
    explain: Path | None,
    faults: tuple[str, ...],
    rig: str,
    as_json: bool,
) -> None:
    """Run one night on the simulated rig and keep its record.

    After every scan the true state of the rig is held against the laws of safety, which DEVELOPERS.md
    lists; a line "Safety law 3 broken" tells that the third of them was not kept.
    """
    with nothing_begun():
        if "list" in faults:
            list_faults()
            return
        checked = load_chosen_site(site)
        chosen = known_recipe(checked, recipe)
        strikes = fault_plan(faults, checked)
        refuse_unwritable(report, explain)

        from sim.night import run_night

    with folder_for_a_night(state), stop_on_ctrl_c() as stop, progress_shown() as show:
        if stop():
            say_nothing_begun()
        with broken_off(), board_of(rig, checked) as board:
            outcome = run_night(checked, chosen, seed, state, show, stop, strikes, board, explain is not None)
    if as_json:
        print_json(outcome.as_json())
    else:
        from controller.cli.outcome import show_outcome

        show_outcome(outcome, state)
    if report is not None:
        from controller.record.report import report_html

        write_file(report, report_html(outcome.record))
        click.echo(f"Report: {report}", err=as_json)
    if explain is not None:
        from sim.explain.page import explain_html

        write_file(explain, explain_html(outcome, checked))
        click.echo(f"True against measured: {explain}", err=as_json)
    if stop.asked:
        what = f"the batch is {outcome.result}, and the record holds everything up to there"
        click.echo(f"You asked for a stop: {what}.", err=True)
    raise click.exceptions.Exit(
        FAILED if outcome.violations else exit_code_of(outcome.result, stopped_by_you=stop.asked)
    )


@contextmanager
def board_of(rig: str, site: Site) -> Iterator[VmBoard | None]:
    """Give the board in the VM, None for the one in this program; say at the end if the VM was lost.

    Raises HardwareFault.
    """
    if rig == "sim":
        yield None
        return
    from sim.vm.board import vm_board

    with vm_board(site) as board:
        try:
            yield board
        finally:
            if board.fault is not None:
                click.echo(f"The board failed during the night: {board.fault}", err=True)


def refuse_unwritable(*places: Path | None) -> None:
    """Raise the OSError of a page that cannot be written, before the night and not after it.

    Two pages for one file are a click usage error.
    """
    wanted = [place for place in places if place is not None]
    if len({place.resolve() for place in wanted}) < len(wanted):
        raise click.UsageError(f"--report and --explain both name {wanted[0]}: give each a file of its own.")
    for place in wanted:
        there = place.exists()
        with place.open("ab"):
            pass
        if not there:
            place.unlink()
