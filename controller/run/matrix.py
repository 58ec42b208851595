"""The cause-and-effect matrix as data: every row of the interlock table with its words and all its effects.

Nothing is decided or laid out here: the marks are read off the same rows that the interlocks judge by. The
columns follow IEC 62881 (cause-and-effect matrix) and the practice around it: tag, trip point, voting, delay,
latch and clear rule, bypass, and a mark for each effect.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum

from controller.run.alarms import LONGEST_SHELF_S
from controller.run.interlock_row import Clear, Interlock, Output, Response
from controller.run.interlock_table import TABLE
from controller.settings.values import Site

ANNOUNCED = "lamp and sounder"
QUARANTINED = "release withdrawn, tank quarantined"
EFFECTS: tuple[str, ...] = (*(output.value for output in Output), ANNOUNCED, QUARANTINED)


class Mark(Enum):
    """How a cause brings about an effect."""

    BLOCKED = "X"
    BY_RESPONSE = "r"
    TOLD = "a"
    NONE = ""


LEGEND: Mapping[Mark, str] = {
    Mark.BLOCKED: "off by the cause itself: whatever asks for the output, the guard refuses it",
    Mark.BY_RESPONSE: "by the response: a batch that is held, stopped or aborted asks for nothing; with the "
    "selector at HAND the stir pump alone may then still run by hand",
    Mark.TOLD: "a person is told, unless the alarm is shelved or not announced behind its root",
    Mark.NONE: "no effect",
}
NOTES: tuple[str, ...] = (
    "Every cause is judged in every scan, in every run state; the worst response wins, and blocks add up.",
    "First out: the first cause with a response is kept and told as such until nothing stands any more.",
    "Nothing restarts by itself: after a hold only a person's resume goes on, after stop or abort nothing.",
    "No cause can be bypassed. A shelf silences an announcement for a while, never the cause.",
)


@dataclass(frozen=True, slots=True)
class MatrixRow:
    """One cause for one site, in words. `effects` has a mark for each of EFFECTS."""

    tag: str
    cause: str
    trip_point: str
    voting: str
    delay_s: float
    latched: bool
    clear: str
    bypass: str
    priority: str
    first_out: bool
    response: str
    effects: Mapping[str, Mark]
    silent_behind: tuple[str, ...]
    consequence: str
    remedy: str


def matrix(site: Site) -> tuple[MatrixRow, ...]:
    """Give the whole table for one site, in the order in which equal responses are told."""
    return tuple(matrix_row(row, site) for row in TABLE)


def matrix_row(row: Interlock, site: Site) -> MatrixRow:
    """Word one row of the table for one site."""
    shelf = f"announcement may be shelved for up to {LONGEST_SHELF_S / 60:g} min"
    return MatrixRow(
        tag=row.cause.name.replace("_", "-"),
        cause=row.cause.value,
        trip_point=row.trip.words(site),
        voting=row.trip.voting,
        delay_s=row.delay_s,
        latched=row.clear is Clear.ACKNOWLEDGED,
        clear=row.clear.value,
        bypass=shelf if row.may_be_shelved else "none",
        priority=row.priority.value,
        first_out=row.acts,
        response=row.response.name.lower(),
        effects=effects_of(row),
        silent_behind=tuple(sorted(root.value for root in row.behind)),
        consequence=row.consequence,
        remedy=row.remedy,
    )


def effects_of(row: Interlock) -> Mapping[str, Mark]:
    """Mark every effect of one row."""
    ends = row.response >= Response.STOP
    by_response = Mark.BY_RESPONSE if row.acts else Mark.NONE
    marks = {output.value: Mark.BLOCKED if output in row.blocks else by_response for output in Output}
    marks[ANNOUNCED] = Mark.TOLD if row.is_alarm else Mark.NONE
    marks[QUARANTINED] = Mark.BY_RESPONSE if ends else Mark.NONE
    return marks


def with_mark(row: MatrixRow, mark: Mark) -> tuple[str, ...]:
    """Give the effects that a cause brings about in one way."""
    return tuple(effect for effect in EFFECTS if row.effects[effect] is mark)
