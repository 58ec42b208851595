"""`tankhand endure`: many simulated nights with random faults, every one held against the laws of safety.

Only the asking and the answering live here; drawing, running and adding up are `sim.campaign`.
"""

from __future__ import annotations

import os
import time
from pathlib import Path
from typing import TYPE_CHECKING

import click

from controller.cli.answer import print_json
from controller.cli.errors import EXIT_CODES, FAILED
from controller.cli.options import json_option, load_chosen_site, seed_option, site_option
from controller.cli.stop import nothing_begun

if TYPE_CHECKING:
    from sim.campaign.draw import DrawnNight
    from sim.campaign.tally import Tally

TOLD_EVERY_S = 10.0


@click.command(epilog=EXIT_CODES)
@site_option
@click.option(
    "--nights", type=click.IntRange(1, 1_000_000), default=300, show_default=True, help="How many nights."
)
@seed_option("Seed of the campaign: the same seed draws the same nights.")
@click.option(
    "--jobs",
    type=click.IntRange(1, 256),
    default=lambda: os.cpu_count() or 1,
    show_default="one a processor",
    help="How many nights run side by side. It changes nothing but the time.",
)
@click.option(
    "--only",
    type=click.IntRange(0),
    metavar="NUMBER",
    help="Run only the night of this number, and tell what was drawn for it.",
)
@json_option
def endure(site: Path | None, nights: int, seed: int, jobs: int, only: int | None, as_json: bool) -> None:
    """Run many simulated nights with random faults, waters, wear and people.

    After every scan of every night the true state of the rig is held against the laws of safety, which
    DEVELOPERS.md lists. Law 0 stands for an error of the program. Each broken law is told with the command
    that runs that night again.
    """
    with nothing_begun():
        checked = load_chosen_site(site)

        from sim.campaign.many_nights import drawn_night, results
        from sim.campaign.tally import Tally

    tally = Tally(seed)
    began_s = told_s = time.perf_counter()
    numbers = range(nights) if only is None else range(only, only + 1)
    for result in results(checked, seed, numbers, 1 if only is not None else jobs):
        tally.add(result)
        now_s = time.perf_counter()
        if now_s - told_s > TOLD_EVERY_S:
            told_s = now_s
            click.echo(f"{tally.nights} of {len(numbers)} nights", err=True)
    wall_s = time.perf_counter() - began_s
    if as_json:
        print_json(tally.as_json(wall_s))
    else:
        if only is not None:
            _show_drawn(drawn_night(checked, seed, only))
        _show(tally, wall_s)
    raise click.exceptions.Exit(FAILED if tally.violations else 0)


def _show_drawn(drawn: DrawnNight) -> None:
    click.echo(f"Recipe {drawn.recipe}; the person in charge {drawn.habit.value}.")
    for at_s, fault in drawn.strikes:
        click.echo(f"  after {at_s:.0f} s: {fault}")
    for one in drawn.meddling:
        click.echo(f"  after {one.at_s:.0f} s: {one.act}")


def _show(tally: Tally, wall_s: float) -> None:
    click.echo(f"{tally.nights} nights, {tally.simulated_s / 3600:.0f} h simulated")
    for outcome, count in sorted(tally.outcomes.items()):
        click.echo(f"  {count:6}  {outcome}")
    click.echo("Fault                            struck  alone  noticed  median s to safe  worst")
    for name, fault in sorted(tally.faults.items()):
        times = sorted(fault.safe_after_s)
        took = f"{times[len(times) // 2]:>16.0f}{times[-1]:>7.0f}" if times else f"{'-':>16}{'-':>7}"
        click.echo(f"  {name:<30}{fault.struck:>7}{fault.alone:>7}{fault.noticed:>9}  {took}")
        if fault.unseen_harm:
            click.echo(f"    did harm that nothing noticed in {fault.unseen_harm} nights")
    for law, number, text in tally.violations:
        what = "The program failed" if law == 0 else f"Safety law {law} broken"
        click.echo(f"{what} in night {number}: {text}\n    {tally.replay(number)}", err=True)
    click.echo(f"{len(tally.violations)} broken laws; {tally.simulated_s / wall_s:,.0f} x real time")
