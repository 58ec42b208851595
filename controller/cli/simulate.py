"""`tankhand simulate`: one night on the simulated rig, as fast as it goes.

Only the asking and the answering live here; the night itself is `sim.night`, its look is `outcome.py`.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from controller.cli.answer import print_json
from controller.cli.errors import FAILED, HELD
from controller.cli.fault_option import fault_option, fault_plan, list_faults
from controller.cli.options import (
    json_option,
    known_recipe,
    load_chosen_site,
    recipe_option,
    site_option,
    state_option,
)
from controller.cli.progress import progress_shown
from controller.cli.stop import stop_on_ctrl_c

if TYPE_CHECKING:
    from sim.outcome import NightOutcome

# The controller itself stops a batch that was held too long, and one whose tank it quarantines.
HELD_RESULTS = ("held", "stopped", "complete")


@click.command()
@site_option
@recipe_option
@click.option(
    "--seed",
    type=click.IntRange(min=0, max=2**63 - 1),
    metavar="N",
    default=1,
    show_default=True,
    help="Seed of everything random: the same seed gives the same night.",
)
@state_option
@click.option(
    "--report",
    type=click.Path(dir_okay=False, path_type=Path),
    metavar="FILE",
    help="Write the batch report, one HTML page, to FILE.",
)
@fault_option
@json_option
def simulate(
    site: Path | None,
    recipe: str | None,
    seed: int,
    state: Path,
    report: Path | None,
    faults: tuple[str, ...],
    as_json: bool,
) -> None:
    """Run one night on the simulated rig and keep its record.

    Exit codes: 0 released, 1 failed or stopped, 2 wrong usage or a fault in the files, 3 held or quarantined.
    """
    if "list" in faults:
        list_faults()
        return
    checked = load_chosen_site(site)
    chosen = known_recipe(checked, recipe)
    strikes = fault_plan(faults)
    if report is not None:
        refuse_unwritable(report)
    state.mkdir(parents=True, exist_ok=True)

    from sim.night import run_night

    with stop_on_ctrl_c() as stop, progress_shown() as show:
        outcome = run_night(checked, chosen, seed, state, show, stop, strikes)
    if as_json:
        print_json(outcome.as_json())
    else:
        from controller.cli.outcome import show_outcome

        show_outcome(outcome, state)
    if report is not None:
        write_report(outcome, report)
        click.echo(f"Report: {report}", err=as_json)
    if stop.asked:
        what = f"the batch is {outcome.result}, and the record holds everything up to there"
        click.echo(f"Stopped on request: {what}.", err=True)
    raise click.exceptions.Exit(FAILED if stop.asked else exit_code_of(outcome))


def exit_code_of(outcome: NightOutcome) -> int:
    """Give 0 for a tank released and kept to the end, 3 for one held or quarantined, 1 for anything else."""
    if outcome.released and outcome.result == "complete":
        return 0
    return HELD if outcome.result in HELD_RESULTS else FAILED


def refuse_unwritable(place: Path) -> None:
    """Raise the OSError of a report that cannot be written, before the night and not after it."""
    there = place.exists()
    with place.open("ab"):
        pass
    if not there:
        place.unlink()


def write_report(outcome: NightOutcome, place: Path) -> None:
    """Write the batch report of this night to `place`, as `tankhand record report` would."""
    from controller.record.batch_record import read_batch
    from controller.record.report import report_html

    place.write_text(report_html(read_batch(outcome.record_path, outcome.batch)), encoding="utf-8")
