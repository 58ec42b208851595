"""`tankhand simulate`: one night on the simulated rig, as fast as it goes.

Only the asking and the showing live here; the night itself is `sim.night`.
"""

from __future__ import annotations

import json
import signal
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING

import click

from controller.cli.errors import FAILED, HELD
from controller.cli.site_option import default_state_folder, json_option, load_chosen_site, site_option

if TYPE_CHECKING:
    from sim.night import NightOutcome


class StopAsked:
    """Ctrl-C as a question: the first press asks for a safe stop, the second breaks off at once."""

    def __init__(self) -> None:
        self.asked = False

    def __call__(self) -> bool:
        """Tell whether a stop has been asked for."""
        return self.asked

    def on_signal(self, number: int, frame: FrameType | None) -> None:
        """Note the first press; raise KeyboardInterrupt on the next."""
        if self.asked:
            raise KeyboardInterrupt
        self.asked = True
        click.echo("Stopping safely; once more to break off at once.", err=True)


@contextmanager
def stop_on_ctrl_c() -> Iterator[StopAsked]:
    """Take Ctrl-C (SIGINT) and SIGTERM as a wish to stop, and give both back afterwards."""
    stop = StopAsked()
    before = {number: signal.signal(number, stop.on_signal) for number in (signal.SIGINT, signal.SIGTERM)}
    try:
        yield stop
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


@click.command()
@site_option
@click.option("--recipe", metavar="NAME", help="Recipe to mix (default: the one the schedule names).")
@click.option(
    "--seed", type=click.IntRange(min=0), default=1, show_default=True, help="Seed of all that is random."
)
@click.option(
    "--state",
    type=click.Path(path_type=Path),
    metavar="DIR",
    help="Where the record is kept (default: $XDG_STATE_HOME/tankhand/simulated, or under ~/.local/state).",
)
@click.option(
    "--report",
    type=click.Path(dir_okay=False, path_type=Path),
    metavar="FILE",
    help="Write the batch report, one HTML page, to FILE.",
)
@json_option
def simulate(
    site: Path | None, recipe: str | None, seed: int, state: Path | None, report: Path | None, as_json: bool
) -> None:
    """Run one night on the simulated rig and keep its record.

    Exit codes: 0 released, 1 failed or stopped, 2 wrong usage or a fault in the files, 3 held or quarantined.
    """
    from sim.night import run_night

    from controller.cli.progress import progress_shown

    folder = default_state_folder() if state is None else state
    checked = load_chosen_site(site)
    with stop_on_ctrl_c() as stop, progress_shown() as show:
        outcome = run_night(checked, recipe, seed, folder, show, stop)
    if as_json:
        click.echo(json.dumps(outcome.as_json()))
    else:
        from controller.cli.outcome import show_outcome

        show_outcome(outcome, folder)
    if stop.asked:
        click.echo(f"Stopped on request. Result: {outcome.result}; {outcome.reason}", err=True)
    if report is not None:
        write_report(outcome, report)
    raise click.exceptions.Exit(FAILED if stop.asked else exit_code_of(outcome))


def exit_code_of(outcome: NightOutcome) -> int:
    """Give 0 for a released tank, 3 for a held or quarantined one, 1 for anything else."""
    if outcome.released:
        return 0
    return HELD if outcome.result in ("held", "complete", "quarantined") else FAILED


def write_report(outcome: NightOutcome, place: Path) -> None:
    """Write the batch report of this night to `place` and say so."""
    raise NotImplementedError
