"""The forms of the cause-and-effect matrix for programs and terminals: plain text, CSV and JSON.

Layout only; the rows are `controller.run.matrix` and `matrix_board.py`.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import asdict

from controller.cli.matrix_board import BoardTrip
from controller.run.matrix import EFFECTS, LEGEND, NOTES, Mark, MatrixRow, with_mark
from controller.settings.values import Site

HEAD = (
    "tag",
    "cause",
    "trip point",
    "voting",
    "delay, s",
    "clears",
    "bypass",
    "priority",
    "first out",
    "response",
)
BOARD_HEAD = ("cause", "trip point", "clears", "effect")
ALL_OFF = "valve, pumps and enable off"
BOARD_ALONE = "The board alone: what it does by itself, whatever the computer does"


def cells(row: MatrixRow) -> tuple[str, ...]:
    """Give the words of one row, without its effects."""
    return (
        row.tag,
        row.cause,
        row.trip_point,
        row.voting,
        f"{row.delay_s:g}",
        row.clear,
        row.bypass,
        row.priority,
        "kept" if row.first_out else "no alarm",
        row.response,
    )


def board_cells(trip: BoardTrip) -> tuple[str, ...]:
    """Give the words of one trip of the board."""
    return (trip.cause, trip.trip_point, trip.clear, ALL_OFF)


def as_text(site: Site, rows: Sequence[MatrixRow], board: Sequence[BoardTrip]) -> list[str]:
    """Give a block of lines a cause: a terminal is too narrow for the matrix itself."""
    lines = [f"Cause-and-effect matrix of {site.policy.title} ({site.policy.name})", *NOTES]
    for row in rows:
        lines += [
            "",
            f"{row.tag}: {row.cause}",
            f"  trips: {row.trip_point} ({row.voting}; delay {row.delay_s:g} s)",
            f"  then: {row.response}; priority {row.priority}; clears {row.clear}",
            f"  off by the cause: {_with(row, Mark.BLOCKED)}",
            f"  by the response: {_with(row, Mark.BY_RESPONSE)}; told by: {_with(row, Mark.TOLD)}",
            f"  bypass: {row.bypass}; not announced behind: {', '.join(row.silent_behind) or 'nothing'}",
            f"  means: {row.consequence}",
            f"  do: {row.remedy}",
        ]
    lines += ["", BOARD_ALONE]
    for trip in board:
        lines += [
            "",
            trip.cause,
            f"  trips: {trip.trip_point}",
            f"  then: {ALL_OFF}",
            f"  clears: {trip.clear}",
        ]
    return lines


def as_csv(rows: Sequence[MatrixRow], board: Sequence[BoardTrip]) -> str:
    """Give both tables as CSV (RFC 4180), an empty line between them."""
    out = io.StringIO()
    write = csv.writer(out)
    write.writerow((*HEAD, *EFFECTS, "not announced behind", "consequence", "what to do"))
    for row in rows:
        marks = (row.effects[effect].value for effect in EFFECTS)
        write.writerow((*cells(row), *marks, "; ".join(row.silent_behind), row.consequence, row.remedy))
    write.writerow(())
    write.writerow(BOARD_HEAD)
    write.writerows(board_cells(trip) for trip in board)
    return out.getvalue()


def as_json(site: Site, rows: Sequence[MatrixRow], board: Sequence[BoardTrip]) -> dict[str, object]:
    """Give both tables as one JSON object; an effect's mark is "X", "r", "a" or empty, as the legend says."""
    return {
        "site": site.policy.name,
        "effects": list(EFFECTS),
        "legend": {mark.value: words for mark, words in LEGEND.items()},
        "notes": list(NOTES),
        "causes": [
            {**asdict(row), "effects": {effect: mark.value for effect, mark in row.effects.items()}}
            for row in rows
        ],
        "board": [{**asdict(trip), "latched": trip.latched} for trip in board],
    }


def _with(row: MatrixRow, mark: Mark) -> str:
    return ", ".join(with_mark(row, mark)) or "nothing"
