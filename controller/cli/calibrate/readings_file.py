"""Readings of a calibration from a file: CSV with a header, one look a row, in the order they were taken.

Only the reading of the file lives here. Rows of one bottle stand together; the same bottle later on is
another reading of it (at another temperature, say).
"""

from __future__ import annotations

import csv
import math
from collections.abc import Iterator
from itertools import groupby
from pathlib import Path

from controller.cli.calibrate.cups_at_hand import BoardLook
from controller.settings.faults import Fault, SiteFaults

MOST_ROWS = 100_000


def looks_from(
    place: Path, bottle: str, value: str, temperature_c: float | None
) -> list[tuple[str, list[BoardLook]]]:
    """Give the looks of each bottle in turn. `bottle` and `value` name the columns, e.g. buffer and mv.

    Raises SiteFaults that name row and column, OSError when the file cannot be read.
    """
    with place.open(encoding="utf-8-sig", newline="") as file:
        try:
            rows = list(_rows(place, csv.reader(file), bottle, value, temperature_c))
        except (UnicodeDecodeError, csv.Error) as error:
            raise _fault(place, "", "", f"is no CSV in UTF-8 ({error})", "save it as CSV, UTF-8") from None
    if not rows:
        raise _fault(place, "", "", "holds no readings", "write one row for each look at the board")
    return [(label, [look for _, look in group]) for label, group in groupby(rows, key=lambda row: row[0])]


def _rows(
    place: Path, reader: Iterator[list[str]], bottle: str, value: str, temperature_c: float | None
) -> Iterator[tuple[str, BoardLook]]:
    header = [name.strip().lower() for name in next(reader, [])]
    wanted = [bottle, "time_s", value] + (["temperature_c"] if temperature_c is None else [])
    missing = [name for name in wanted if name not in header]
    if missing:
        raise _fault(
            place, "row 1", ",".join(header), f"lacks {missing[0]}", f"begin with {','.join(wanted)}"
        )
    before: tuple[str, float] | None = None
    for number, cells in enumerate(reader, start=2):
        if not any(cell.strip() for cell in cells):
            continue
        if number > MOST_ROWS:
            raise _fault(place, f"row {number}", "", "is one too many", f"keep to {MOST_ROWS} rows")
        if len(cells) != len(header):
            problem = f"has {len(cells)} cells, the header {len(header)}"
            raise _fault(place, f"row {number}", "", problem, "write every cell, with a point for decimals")
        row = dict(zip(header, (cell.strip() for cell in cells), strict=True))
        at_s = _number(place, number, row, "time_s")
        if before is not None and row[bottle] == before[0] and at_s <= before[1]:
            problem = "is not later than the row before"
            raise _fault(place, f"row {number}", row["time_s"], problem, "give times in seconds, in order")
        before = (row[bottle], at_s)
        seen = _number(place, number, row, value)
        celsius = temperature_c if temperature_c is not None else _number(place, number, row, "temperature_c")
        yield (
            row[bottle],
            BoardLook(at_s, seen if value == "mv" else None, seen if value != "mv" else None, celsius),
        )


def _number(place: Path, number: int, row: dict[str, str], name: str) -> float:
    try:
        read = float(row[name])
    except ValueError:
        read = math.nan
    if not math.isfinite(read):
        remedy = "write a plain number, with a point for decimals and without a unit"
        raise _fault(place, f"row {number}, {name}", row[name], "is no number", remedy)
    return read


def _fault(place: Path, key: str, value: str, problem: str, remedy: str) -> SiteFaults:
    from controller.settings.faults import plain

    return SiteFaults([Fault(plain(str(place)), key, plain(value)[:60], problem, remedy)])
