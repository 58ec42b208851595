"""`tankhand serve`: one batch on a rig that lives: the wired one, or a simulated one at a chosen speed.

Only the asking and the answering live here; the rigs are `rigs.py`, the running is `controller.service`.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager
from pathlib import Path
from typing import TYPE_CHECKING

import click

from controller.cli.answer import print_json
from controller.cli.background_echo import BackgroundEcho
from controller.cli.board.line import port_option
from controller.cli.errors import EXIT_CODES, FAILED, exit_code_of
from controller.cli.options import (
    json_option,
    known_recipe,
    load_chosen_site,
    recipe_option,
    seed_option,
    site_option,
)
from controller.cli.state_folder import LIVE, SIMULATED, folder_for_a_night, state_folder
from controller.cli.stop import broken_off, nothing_begun, say_nothing_begun, stop_on_ctrl_c

if TYPE_CHECKING:
    from controller.cli.rigs import ServedRig
    from controller.run.snapshot import Snapshot
    from controller.settings.values import Site

WIRED, SIM, VM = "hardware", "sim", "vm"


def read_speed(ctx: click.Context, param: click.Parameter, text: str) -> float | None:
    """Read how many times faster than real time: a number from 1 to 10000, or `max`, which becomes None."""
    if text == "max":
        return None
    try:
        speed = float(text)
    except ValueError:
        speed = 0.0
    if not 1.0 <= speed <= 10_000.0:
        raise click.BadParameter(f'"{text}" is neither a number from 1 to 10000 nor "max".', ctx, param)
    return speed


@click.command(epilog=EXIT_CODES)
@site_option
@recipe_option
@click.option(
    "--rig",
    type=click.Choice([WIRED, SIM, VM]),
    default=WIRED,
    show_default=True,
    help="The wired rig; a simulated one; or a simulated one whose board is the real firmware in a virtual "
    "machine behind a serial line. The simulated ones take their panel from mock pins.",
)
@click.option(
    "--speed",
    callback=read_speed,
    default="1",
    show_default=True,
    metavar="X",
    help="How many times faster than real time a simulated rig runs, or max: as fast as it goes.",
)
@seed_option("Seed of a simulated rig.")
@port_option
@click.option(
    "--state",
    type=click.Path(path_type=Path),
    metavar="DIR",
    help="Folder of the record (default: tankhand/live, or tankhand/simulated, in $XDG_STATE_HOME or "
    "~/.local/state).",
)
@json_option
def serve(
    site: Path | None,
    recipe: str | None,
    rig: str,
    speed: float | None,
    seed: int,
    port: str | None,
    state: Path | None,
    as_json: bool,
) -> None:
    """Mix one batch now, release it when it is right, keep it, and end.

    The wired rig is proved first: line, board, limits and pins; nothing moves before all is right. Ctrl-C or
    SIGTERM stops the batch and switches everything off. An alarm is lamp, sounder and a line here; nobody is
    called yet. After an alarm that ended the batch it goes on for five minutes, or until the wall button is
    pressed. The emergency stop needs no program: press it first
    if anyone is in danger.
    """
    if rig == WIRED and speed != 1.0:
        raise click.BadParameter("The wired rig runs in real time.", param_hint="'--speed'")
    with nothing_begun():
        checked = load_chosen_site(site)
        chosen = known_recipe(checked, recipe)
        # Nights that were only simulated stay out of the record of the real tank.
        folder = state or state_folder(LIVE if rig == WIRED else SIMULATED)

        from controller.cli.rigs import simulated_rig, wired_rig
    served = (
        wired_rig(checked, port) if rig == WIRED else simulated_rig(checked, seed, speed, in_vm=rig == VM)
    )
    _run(checked, chosen, served, folder, as_json)


def _run(
    site: Site, recipe: str, rig: AbstractContextManager[ServedRig], folder: Path, as_json: bool
) -> None:
    from controller.record.batch_record import read_batch
    from controller.service.lamp_and_sounder import LampAndSounder
    from controller.service.live import Around, run_live
    from firmware_bridge.faults import HardwareFault

    with (
        folder_for_a_night(folder),
        stop_on_ctrl_c() as stop,
        BackgroundEcho() as echo,
        broken_off(),
        rig as served,
    ):
        if stop():
            say_nothing_begun()
        lamp = LampAndSounder(served.show)
        lines = StepLines(echo, lambda: served.trouble() or lamp.trouble)

        def on_scan(now: Snapshot) -> None:
            lamp(now)
            if not as_json:
                lines(now)

        around = Around(served.wall_start, served.motions, served.writer, stop, on_scan)
        try:
            end = run_live(site, recipe, served.port, served.pace, folder, around)
        except HardwareFault as fault:
            # The rig was proved before; what fails now failed in mid-night.
            click.echo(str(fault), err=True)
            raise click.exceptions.Exit(FAILED) from fault
    record = read_batch(end.record_path, end.batch)
    if as_json:
        from controller.record.export import batch_as_json

        print_json(batch_as_json(record))
    else:
        from controller.cli.record_screen import show_batch

        show_batch(record)
    if end.record_fault is not None:
        click.echo(f"The record is not whole: {end.record_fault}", err=True)
    raise click.exceptions.Exit(exit_code_of(end.ended_as.value, stopped_by_you=stop.asked))


class StepLines:
    """Print a line when state, step, alarms or trouble change: for a terminal, and for a service's log."""

    def __init__(self, echo: Callable[[str], None], trouble: Callable[[], str | None]) -> None:
        self._echo = echo
        self._trouble = trouble
        self._told: tuple[object, ...] = ()

    def __call__(self, now: Snapshot) -> None:
        """Tell what is new."""
        trouble = self._trouble()
        news = (now.state, now.number, now.title, now.active, trouble)
        if news == self._told:
            return
        self._told = news
        from controller.record.words import duration

        words = [now.state.value]
        if now.title:
            words.append(f"step {now.number} of {now.steps}: {now.title}")
        if now.left_s > 0:
            words.append(f"{duration(now.left_s)} left")
        words += [cause.value for cause in now.active]
        if trouble:
            words.append(trouble)
        self._echo(" · ".join(words))
