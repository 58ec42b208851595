"""Rows as they come out of the record: an event with its place and its two times.

Reading typed rows through an open connection lives here; opening and writing do not.
"""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Generic, Protocol, TypeVar, cast

from controller.record.events import AnyEvent
from controller.record.fault import SQLITE_FAULTS, RecordFault
from controller.record.tables import TABLE_OF, read_times

E_co = TypeVar("E_co", bound=AnyEvent, covariant=True)
E = TypeVar("E", bound=AnyEvent)

LOOK_CLOSER = "see what is broken with `tankhand record verify`"


@dataclass(frozen=True, slots=True)
class Row(Generic[E_co]):
    """One event as recorded. `at_s` is monotonic time, which starts anew when the computer does."""

    seq: int
    at_s: float
    wall: datetime
    event: E_co


class Source(Protocol):
    """Where rows can be read: an open journal, or a view of one."""

    def rows(
        self, event: type[E], *, batch: int | None = None, first: int = 1, last: int = 2**62
    ) -> tuple[Row[E], ...]:
        """Read rows of one kind in order."""
        ...


def read_rows(
    connection: sqlite3.Connection,
    path: Path,
    event: type[E],
    batch: int | None,
    first: int,
    last: int,
) -> tuple[Row[E], ...]:
    """Read the rows of one event class with `first` <= seq <= `last`, of one batch if it is given.

    RecordFault when the file cannot be read or a cell is not of its column's type.
    """
    table = TABLE_OF[cast(type[AnyEvent], event)]
    query = f"SELECT {table.column_list} FROM {table.name} WHERE seq BETWEEN ? AND ?"
    wanted: tuple[int, ...] = (first, last)
    if batch is not None:
        query, wanted = query + " AND batch = ?", (*wanted, batch)
    found: list[Row[E]] = []
    try:
        for seq, at_s, wall, *cells, _chain in connection.execute(query + " ORDER BY seq", wanted):
            try:
                found.append(Row(seq, *read_times(at_s, wall), cast(E, table.make(cells))))
            except (ValueError, TypeError) as error:
                raise RecordFault(
                    path, f"row {seq} of {table.name} is damaged: {error}", LOOK_CLOSER
                ) from error
    except SQLITE_FAULTS as error:
        raise RecordFault(path, f"table {table.name} cannot be read ({error})", LOOK_CLOSER) from error
    return tuple(found)
