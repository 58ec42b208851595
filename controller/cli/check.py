"""`tankhand check`: everything that is wrong in a site's files, and whether every recipe can be planned.

Only the asking and the wording live here; the judging is done by `controller.settings`, by `controller.plan`
and, for the simulated world, by `sim`.
"""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

import click

from controller.cli.answer import print_json
from controller.cli.errors import FAULT_OF_USE
from controller.cli.matrix import FORMS, show_matrix
from controller.cli.options import chosen_folder, json_option, load_chosen_site, site_option

if TYPE_CHECKING:
    from controller.cli.check_hardware import Finding
    from controller.plan.findings import Refusal
    from controller.plan.steps import Plan
    from controller.settings.faults import Fault
    from controller.settings.shown import ShownReading
    from controller.settings.values import Site


@click.command()
@site_option
@click.option("--hardware", is_flag=True, help="Then look at port, board and pins; nothing is switched on.")
@click.option(
    "--pins",
    type=click.Choice(["lgpio", "mock"]),
    help="With --hardware: the computer's real pins (default), or mock pins to try this anywhere.",
)
@click.option("--port", metavar="PORT", help="With --hardware: the line to the board (default: rig.toml's).")
@click.option(
    "--matrix",
    type=click.Choice(FORMS),
    is_flag=False,
    flag_value="text",
    help="Print the cause-and-effect matrix with this site's numbers instead (default form: text).",
)
@json_option
def check(
    site: Path | None, hardware: bool, pins: str | None, port: str | None, matrix: str | None, as_json: bool
) -> None:
    """Read a site's files and plan every recipe; say what is good, all that is not, and how labels were read.

    With --hardware then prove port, board and pins before anything moves. Exit code 2 when a file is faulty,
    a recipe cannot be planned or something wired is not as rig.toml says. With --matrix only print
    which cause switches what off, at which of this site's numbers.
    """
    if not hardware and (pins or port):
        raise click.UsageError("--pins and --port belong to --hardware.")
    if matrix is not None:
        if hardware:
            raise click.UsageError("--matrix and --hardware are two questions: ask one at a time.")
        show_matrix(load_chosen_site(site), "json" if as_json else matrix)
        return
    from controller.settings.faults import SiteFaults
    from controller.settings.shown import shown_readings

    try:
        checked = load_chosen_site(site)
    except SiteFaults as found:
        faults = (*found.faults, *unreadable_world(chosen_folder(site)))
        if as_json:
            print_json({"good": False, "faults": [asdict(fault) for fault in faults], "recipes": []})
            raise click.exceptions.Exit(FAULT_OF_USE) from None
        raise SiteFaults(faults) from None
    world = world_faults(checked)
    judged = {name: planned(checked, name) for name in sorted(checked.recipes)}
    readings = shown_readings(checked.folder)
    wired = hardware_findings(checked, port, pins or "lgpio") if hardware else None
    if as_json:
        print_json(judged_as_json(checked, world, judged, readings, wired))
    else:
        show_judged(checked, world, judged, readings)
        show_findings(wired or ())
    wired_wrong = any(not finding.good for finding in wired or ())
    if world or wired_wrong or any(isinstance(plan, tuple) for plan in judged.values()):
        raise click.exceptions.Exit(FAULT_OF_USE)


def hardware_findings(site: Site, port: str | None, pins: str) -> tuple[Finding, ...]:
    """Look at what is wired; only then is anything of the hardware loaded."""
    from controller.cli.check_hardware import check_hardware

    return check_hardware(site, port, pins)


def show_findings(found: tuple[Finding, ...]) -> None:
    """Print what is wired well on stdout, what is not on stderr."""
    from controller.settings.faults import plain

    for finding in found:
        click.echo(plain(finding.line()), err=not finding.good)


def world_faults(site: Site) -> tuple[Fault, ...]:
    """Give every fault of the file that tells the simulator what is true at this site."""
    from controller.settings.faults import SiteFaults
    from sim.world import load_world

    try:
        load_world(site)
    except SiteFaults as faults:
        return faults.faults
    return ()


def unreadable_world(folder: Path) -> tuple[Fault, ...]:
    """Give the fault of a simulated.toml that cannot be read; beside a faulty site no more can be judged."""
    from controller.settings.faults import SiteFaults
    from sim.world_file import WorldFile

    if not folder.is_dir():
        return ()
    try:
        WorldFile(folder)
    except SiteFaults as faults:
        return faults.faults
    return ()


def show_judged(
    site: Site,
    world: tuple[Fault, ...],
    judged: dict[str, Plan | tuple[Refusal, ...]],
    readings: tuple[ShownReading, ...],
) -> None:
    """Print what is good and how it was read on stdout, faults of files on stderr."""
    from controller.settings.faults import plain

    lines = [*site_lines(site), *([] if world else [world_line(site)])]
    for name, plan in judged.items():
        lines += recipe_lines(name, plan)
    lines += [f"read: {reading}" for reading in readings]
    for line in lines:
        click.echo(plain(line))
    for fault in world:
        click.echo(str(fault), err=True)


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
    from controller.record.words import counted

    rig, policy = site.rig, site.policy
    return [
        f"{policy.title} ({policy.name}), {site.folder}",
        f"good: rig.toml, {counted(len(rig.pumps), 'pump')}, {counted(len(rig.scales), 'scale')}, "
        f"{counted(1 if rig.second_probe is None else 2, 'pH probe')}, tank of {rig.tank.working_l:g} L",
        f"good: inputs.toml, {counted(len(site.inputs), 'input')}",
        f"good: site.toml, {counted(len(policy.nights), 'night')} in the schedule",
        f"good: recipes, {counted(len(site.recipes), 'file')}",
    ]


def world_line(site: Site) -> str:
    """Say whether the simulator knows this site, or makes do with what is likely."""
    from controller.record.words import counted
    from sim.world_file import FILE

    if (site.folder / FILE).exists():
        return f"good: {FILE}, {counted(len(site.inputs), 'input')}"
    return f"good: no {FILE}, so that the simulator takes what is likely"


def recipe_lines(name: str, plan: Plan | tuple[Refusal, ...]) -> list[str]:
    """Say whether a recipe can be planned, with its warnings or every reason against it."""
    from controller.record.words import duration, litres

    if isinstance(plan, tuple):
        return [f"refused: recipe {name}: {refusal.line()}" for refusal in plan]
    good = f"good: recipe {name}: {litres(plan.final_l)} in {duration(plan.duration_s)}"
    return [good, *(f"  warning ({warning.rule}): {warning.text}" for warning in plan.warnings)]


def judged_as_json(
    site: Site,
    world: tuple[Fault, ...],
    judged: dict[str, Plan | tuple[Refusal, ...]],
    readings: tuple[ShownReading, ...],
    wired: tuple[Finding, ...] | None,
) -> dict[str, object]:
    """Give the answer for a site that was read: each recipe's refusals and warnings, and what is wired."""
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
    wired_well = all(finding.good for finding in wired or ())
    hardware = {} if wired is None else {"hardware": [asdict(finding) for finding in wired]}
    return {
        "good": not world and wired_well and all(recipe["good"] for recipe in recipes),
        "site": site.policy.name,
        "faults": [asdict(fault) for fault in world],
        "recipes": recipes,
        "readings": [asdict(reading) for reading in readings],
        **hardware,
    }
