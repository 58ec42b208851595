"""`--fault NAME@SECONDS`: what is to break in a simulated night, and when; the faults are in `sim`."""

from __future__ import annotations

import math
from collections.abc import Sequence
from difflib import get_close_matches
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from sim.faults import FaultPlan

fault_option = click.option(
    "--fault",
    "faults",
    multiple=True,
    metavar="NAME@SECONDS",
    help="Break something so many seconds into the night; may be given again. `--fault list` names them all.",
)


def fault_plan(texts: Sequence[str]) -> FaultPlan:
    """Read the faults as given; a click usage error names the first that cannot be."""
    from sim.faults import FaultPlan

    return FaultPlan([_strike(text) for text in texts])


def list_faults() -> None:
    """Print the name of every fault, one a line."""
    from sim.faults import FAULTS

    for name in FAULTS:
        click.echo(name)


def _strike(text: str) -> tuple[float, str]:
    from sim.faults import FAULTS

    name, _, moment = text.rpartition("@")
    if name not in FAULTS:
        near = get_close_matches(name or text, FAULTS, n=1)
        hint = f"did you mean {near[0]!r}?" if near else "`--fault list` names them all"
        raise click.BadParameter(f"{text!r}: no such fault; {hint}", param_hint="'--fault'")
    try:
        at_s = float(moment)
    except ValueError:
        at_s = math.nan
    if not (math.isfinite(at_s) and at_s >= 0):
        raise click.BadParameter(
            f"{text!r}: the moment is a number of seconds from 0, e.g. {name}@900", param_hint="'--fault'"
        )
    return at_s, name
