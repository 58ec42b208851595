"""`--fault NAME@SECONDS`: what is to break in a simulated night, and when; the faults are in `sim`."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from controller.settings.values import Site
    from sim.faults import FaultPlan

fault_option = click.option(
    "--fault",
    "faults",
    multiple=True,
    metavar="NAME@SECONDS",
    help="Break something so many seconds into the night; may be given again. NAME:INPUT where there are "
    "several, e.g. blocked:molasses@3600 or probe-lost:second@900. `--fault list` names them all.",
)


def fault_plan(texts: Sequence[str], site: Site) -> FaultPlan:
    """Read the faults as given; a click usage error names the first that cannot be on this site."""
    from sim.faults import FaultPlan

    return FaultPlan([_strike(text, site) for text in texts])


def list_faults() -> None:
    """Print every fault by family, one a line: how it is written, and what happens."""
    from sim.faults.book import FAMILIES, FAULTS

    width = max(len(fault.form) for fault in FAULTS.values())
    for family, faults in FAMILIES.items():
        click.echo(f"{family}:")
        for fault in faults:
            click.echo(f"  {fault.form:<{width}}  {fault.told_of(fault.strikes.placeholder)}")
        click.echo()
    click.echo(
        "INPUT is the name of an input, e.g. blocked:molasses@3600; the rinse pump goes by its own name.\n"
        "SCALE is the name of a scale or of an input on it, e.g. scale-lost:molasses@3600.\n"
        "Without :second it is the first pH probe, e.g. probe-lost:second@3600 is the other."
    )


def _strike(text: str, site: Site) -> tuple[float, str]:
    from sim.faults import UnknownFault
    from sim.faults.book import fault_of

    name, at, moment = text.rpartition("@")
    try:
        fault_of(name if at else text, site)
    except UnknownFault as fault:
        raise click.BadParameter(str(fault), param_hint="'--fault'") from fault
    try:
        at_s = float(moment)
    except ValueError:
        at_s = math.nan
    if not (math.isfinite(at_s) and at_s >= 0):
        raise click.BadParameter(
            f"{text!r}: the moment is a number of seconds from 0, e.g. {name or text}@900",
            param_hint="'--fault'",
        )
    return at_s, name
