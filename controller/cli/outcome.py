"""The end of a simulated night on screen: the record's verdict, then every number of `simulate --json`.

The numbers are of the very object that `--json` prints, and the verdict is the one that `tankhand record`
gives of the same batch, so that they can never tell different stories.
"""

from __future__ import annotations

import shlex
import shutil
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from controller.cli.record_screen import verdict_lines
from controller.cli.screen import console, print_lines, table
from controller.record.amounts import additions
from controller.record.words import acidity, conductivity, duration, litres, millilitres

if TYPE_CHECKING:
    from sim.outcome import NightOutcome


def show_outcome(outcome: NightOutcome, state: Path) -> None:
    """Print the verdict, the amounts, the tank, the alarms, and the command that reads the record."""
    night: dict[str, Any] = outcome.as_json()
    out = console()
    verdict, *more = verdict_lines(outcome.record)
    print_lines(out, [verdict, *law_lines(night), *more, *fault_lines(night)])
    titles = {amount.input: amount.title for amount in additions(outcome.record)}
    rows = [amount_row(addition, titles) for addition in night["additions"]]
    if rows:
        out.print(table("Amounts", ("input", "target", "recorded", "true"), rows, numbers=(1, 2, 3)))
    else:
        print_lines(out, ["No additions."])
    out.print(table("Tank", ("what", "value"), tank_rows(night)))
    reading = f"{own_name()} record report {outcome.batch} --state {shlex.quote(str(state))}"
    record = [f"Record: batch {outcome.batch} in {outcome.record_path}", f"Read it: {reading}"]
    print_lines(out, [*alarm_lines(night), *record])


def own_name() -> str:
    """Give the name by which this program can be called again: its place, where a shell would not find it."""
    place = Path(sys.argv[0])
    found = shutil.which("tankhand") is not None or place.name != "tankhand"
    return "tankhand" if found else shlex.quote(str(place))


def amount_row(addition: dict[str, Any], titles: Mapping[str, str]) -> tuple[str, str, str, str]:
    """Give one addition's row; "true" is what the simulated physics moved, which no real rig can know."""
    return (
        titles.get(addition["input"], addition["input"]),
        millilitres(addition["target_ml"]),
        millilitres(addition["recorded_ml"]),
        millilitres(addition["true_ml"]),
    )


def tank_rows(night: dict[str, Any]) -> list[tuple[str, str]]:
    """Give the rows about the whole tank."""
    volume, ph = night["volume_l"], night["ph"]
    then = "release" if night["released"] else "the end"
    return [
        ("volume, target", litres(volume["target"])),
        (f"volume, true at {then}", litres(volume["true"])),
        ("measured before trimming", acidity(ph["start"])),
        (f"measured at {then}", acidity(ph["final"])),
        (f"true at {then}", acidity(ph["true"])),
        ("trims", str(ph["trims"])),
        ("rebound", "no reading" if ph["rebound"] is None else f"{ph['rebound']:+.2f} pH"),
        ("conductivity, for reference", conductivity(night["ec_us_cm"])),
        (f"duration to {then}", duration(night["duration_s"])),
        ("floor (shortest possible, whole batch)", duration(night["floor_s"])),
        ("computed in", f"{night['wall_s']:.1f} s"),
        ("speed", times_real_time(night["simulated_s"], night["wall_s"])),
    ]


def times_real_time(simulated_s: float, wall_s: float) -> str:
    """Write simulated over real seconds in words, to two figures; a dash where no time passed."""
    if wall_s <= 0.0:
        return "–"
    times = simulated_s / wall_s
    return f"{float(f'{times:.2g}'):,.{0 if times >= 10 else 1}f} times real time"


def alarm_lines(night: dict[str, Any]) -> list[str]:
    """Give a line for each alarm, or one that says there were none."""
    alarms = [
        f"Alarm at {duration(alarm['at_s'])}: {alarm['alarm']}: {alarm['text']} {alarm['remedy']}"
        for alarm in night["alarms"]
    ]
    return alarms or ["Alarms: none"]


def law_lines(night: dict[str, Any]) -> list[str]:
    """Give a line for each broken law."""
    return [
        f"Safety law {broken['law']} broken at {duration(broken['at_s'])}: {broken['text']}"
        for broken in night["violations"]
    ]


def fault_lines(night: dict[str, Any]) -> list[str]:
    """Give a line for each fault that was asked for, and say when one had no time to strike."""
    return [
        f"Broken on purpose at {duration(fault['at_s'])}: {fault['name']}"
        if fault["struck"]
        else f"Not broken: {fault['name']} was to strike at {duration(fault['at_s'])}, after the night's end"
        for fault in night["faults"]
    ]
