"""How an event becomes a table row and back: tables are generated from the event classes.

Names, column types and the checks of single cells live here. No connection is opened and no row is
chained here. A change of any event class changes the schema: raise `SCHEMA_VERSION` with it.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from datetime import datetime
from types import NoneType
from typing import Any, get_args, get_type_hints

from controller.record.events import AnyEvent

SCHEMA_VERSION = 2
APPLICATION_ID = 0x54414E4B
"""Marks the file as ours in the SQLite header (the letters TANK)."""

Cell = str | int | float | None

_SQL_TYPE = {str: "TEXT", int: "INTEGER", float: "REAL", bool: "INTEGER"}
_INT64 = 2**63


@dataclass(frozen=True, slots=True)
class Column:
    """One field of an event as a column."""

    name: str
    kind: type
    optional: bool

    @property
    def sql(self) -> str:
        """Give the column definition."""
        return f"{self.name} {_SQL_TYPE[self.kind]}" + ("" if self.optional else " NOT NULL")

    def to_cell(self, value: object) -> Cell:
        """Turn a field into what SQLite stores and gives back unchanged. ValueError if it cannot."""
        if value is None and self.optional:
            return None
        if self.kind is float and isinstance(value, int | float) and not isinstance(value, bool):
            number = _as_float(value)
            if math.isfinite(number):
                # SQLite drops the sign of -0.0; adding 0.0 drops it before the row is chained.
                return number + 0.0
        elif self.kind is str and isinstance(value, str):
            value.encode("utf-8")
            # A named word (StrEnum) is stored as the plain text that it is.
            return str.__str__(value)
        elif self.kind is bool and isinstance(value, bool):
            return int(value)
        elif self.kind is int and type(value) is int and -_INT64 <= value < _INT64:
            return value
        raise ValueError(f"{self.name} is {value!r}, which is no storable {self.kind.__name__}")

    def from_cell(self, cell: object) -> object:
        """Turn a stored cell into the field. ValueError if the stored type is not the column's."""
        if cell is None and self.optional:
            return None
        if self.kind is bool and cell in (0, 1) and isinstance(cell, int):
            return bool(cell)
        if self.kind is not bool and type(cell) is self.kind and cell not in (math.inf, -math.inf):
            return cell
        raise ValueError(f"{self.name} holds {cell!r}, which is no {self.kind.__name__}")


@dataclass(frozen=True, slots=True)
class Table:
    """One event class as a table. Every row starts with seq, at_s and wall and ends with chain."""

    name: str
    event: type[AnyEvent]
    columns: tuple[Column, ...]

    @property
    def has_batch(self) -> bool:
        """Tell whether rows belong to a batch."""
        return any(column.name == "batch" for column in self.columns)

    @property
    def create_sql(self) -> str:
        """Give the CREATE statement, also used to recognise the schema of a file."""
        middle = "".join(f", {column.sql}" for column in self.columns)
        return (
            f"CREATE TABLE {self.name} (seq INTEGER PRIMARY KEY, at_s REAL NOT NULL, wall TEXT NOT NULL"
            f"{middle}, chain TEXT NOT NULL)"
        )

    @property
    def column_list(self) -> str:
        """Give all column names in row order."""
        return ", ".join(("seq", "at_s", "wall", *(column.name for column in self.columns), "chain"))

    @property
    def insert_sql(self) -> str:
        """Give the INSERT statement for one whole row."""
        marks = ", ".join("?" * (len(self.columns) + 4))
        return f"INSERT INTO {self.name} ({self.column_list}) VALUES ({marks})"

    def cells(self, event: AnyEvent) -> tuple[Cell, ...]:
        """Turn an event into cells. ValueError names the class and the field that cannot be stored."""
        try:
            return tuple(column.to_cell(getattr(event, column.name)) for column in self.columns)
        except ValueError as error:
            raise ValueError(f"{type(event).__name__}: {error}") from error

    def make(self, cells: Sequence[object]) -> AnyEvent:
        """Turn cells back into the event. ValueError if a cell does not fit its column."""
        values: dict[str, Any] = {
            column.name: column.from_cell(cell) for column, cell in zip(self.columns, cells, strict=True)
        }
        return self.event(**values)


@dataclass(frozen=True, slots=True)
class Entry:
    """An event ready to be appended, already checked cell by cell. `wall` is ISO 8601 with offset."""

    table: Table
    at_s: float
    wall: str
    cells: tuple[Cell, ...]


_AT = Column("at_s", float, optional=False)
_MOST_S = 1e10
_YEARS = range(1970, 9000)


def entry(at_s: float, wall: datetime, event: AnyEvent) -> Entry:
    """Check an event and its two times (monotonic seconds, wall clock with offset) for the journal.

    ValueError if the wall clock has no offset or if a field cannot be stored.
    """
    table = TABLE_OF[type(event)]
    _AT.to_cell(at_s)
    written = wall.isoformat(timespec="milliseconds")
    read_times(float(at_s), written)
    return Entry(table, float(at_s) + 0.0, written, table.cells(event))


def read_times(at_s: object, wall: object) -> tuple[float, datetime]:
    """Read the two times of a row. ValueError if they are of a wrong type or beyond all reason."""
    if type(at_s) is not float or not -_MOST_S < at_s < _MOST_S:
        raise ValueError(f"at_s holds {at_s!r}, which is no time in seconds")
    moment = datetime.fromisoformat(wall) if isinstance(wall, str) else None
    if moment is None or moment.utcoffset() is None or moment.year not in _YEARS:
        raise ValueError(f"wall holds {wall!r}, which is no wall time with a UTC offset")
    return at_s, moment


def _as_float(value: int | float) -> float:
    try:
        return float(value)
    except OverflowError:
        return math.inf


def _column(name: str, hint: object) -> Column:
    kinds = [kind for kind in get_args(hint) if kind is not NoneType] or [hint]
    kind = kinds[0]
    if len(kinds) != 1 or not isinstance(kind, type) or kind not in _SQL_TYPE:
        raise TypeError(f"event field {name} has a type that no column can hold: {hint!r}")
    return Column(name, kind, optional=NoneType in get_args(hint))


def _table(event: type[AnyEvent]) -> Table:
    hints = get_type_hints(event)
    name = re.sub(r"(?<!^)(?=[A-Z])", "_", event.__name__).lower()
    return Table(name, event, tuple(_column(field.name, hints[field.name]) for field in fields(event)))


TABLES: tuple[Table, ...] = tuple(_table(event) for event in get_args(AnyEvent))
TABLE_OF: Mapping[type[AnyEvent], Table] = {table.event: table for table in TABLES}

META_SQL = (
    "CREATE TABLE meta (schema_version INTEGER NOT NULL, head_seq INTEGER NOT NULL, head_chain TEXT NOT NULL)"
)
SCHEMA: tuple[str, ...] = (META_SQL, *(table.create_sql for table in TABLES))
