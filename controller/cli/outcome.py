"""The end of a simulated night on screen: every number that `simulate --json` gives, with its unit.

It draws the very object that `--json` prints, so that the two can never tell different stories.
"""

from __future__ import annotations

import shlex
import shutil
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from controller.cli.screen import acidity, clock, console, litres, millilitres, table

if TYPE_CHECKING:
    from sim.outcome import NightOutcome


def show_outcome(outcome: NightOutcome, state: Path) -> None:
    """Print the amounts, the tank, the alarms, and where the record is with the command that reads it."""
    night: dict[str, Any] = outcome.as_json()
    out = console()
    out.print(headline(night))
    out.print(
        table(
            "Amounts",
            ("input", "target", "recorded", "true"),
            [amount_row(addition) for addition in night["additions"]],
            numbers=(1, 2, 3),
        )
    )
    out.print(table("Tank", ("what", "value"), tank_rows(night)))
    for line in alarm_lines(night):
        out.print(line)
    out.print(f"Record: batch {outcome.batch} in {outcome.record_path}", soft_wrap=True)
    out.print(f"Read it: {own_name()} record report last --state {shlex.quote(str(state))}", soft_wrap=True)


def own_name() -> str:
    """Give the name by which this program can be called again: its place, where a shell would not find it."""
    place = Path(sys.argv[0])
    found = shutil.which("tankhand") is not None or place.name != "tankhand"
    return "tankhand" if found else shlex.quote(str(place))


def headline(night: dict[str, Any]) -> str:
    """Say first what became of the tank, and why when it is not fit to feed."""
    if night["released"] and night["result"] == "complete":
        return "RELEASED: the tank was fit to feed, and was kept until its time was over."
    if night["released"]:
        return f"WITHDRAWN ({night['result']}) after its release: {night['reason']}"
    return f"NOT RELEASED ({night['result']}): {night['reason']}"


def amount_row(addition: dict[str, Any]) -> tuple[str, str, str, str]:
    """Give one addition's row; "true" is what the simulated physics moved, which no real rig can know."""
    return (
        addition["input"],
        millilitres(addition["target_ml"]),
        millilitres(addition["recorded_ml"]),
        millilitres(addition["true_ml"]),
    )


def tank_rows(night: dict[str, Any]) -> list[tuple[str, str]]:
    """Give the rows about the whole tank."""
    volume, ph, ec_us_cm = night["volume_l"], night["ph"], night["ec_us_cm"]
    then = "release" if night["released"] else "the end"
    return [
        ("volume, target", litres(volume["target"])),
        (f"volume, true at {then}", litres(volume["true"])),
        ("measured before trimming", acidity(ph["start"])),
        (f"measured at {then}", acidity(ph["final"])),
        (f"true at {then}", acidity(ph["true"])),
        ("trims", str(ph["trims"])),
        ("rebound", "no reading" if ph["rebound"] is None else f"{ph['rebound']:+.2f} pH"),
        ("conductivity, for reference", "no reading" if ec_us_cm is None else f"{ec_us_cm:.0f} µS/cm"),
        (f"duration to {then}", clock(night["duration_s"])),
        ("floor (shortest possible, whole batch)", clock(night["floor_s"])),
        ("computed in", f"{night['wall_s']:.1f} s"),
    ]


def alarm_lines(night: dict[str, Any]) -> list[str]:
    """Give a line for each alarm, or one that says there were none, and a line for each broken law."""
    alarms = [
        f"Alarm at {clock(alarm['at_s'])}: {alarm['alarm']}: {alarm['text']}" for alarm in night["alarms"]
    ]
    laws = [
        f"LAW {broken['law']} BROKEN at {clock(broken['at_s'])}: {broken['text']}"
        for broken in night["violations"]
    ]
    return (alarms or ["Alarms: none"]) + laws
