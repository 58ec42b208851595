"""The chain: every row carries a digest of itself and of the row before it.

Making links and finding broken ones live here; opening files does not. The chain finds accidents
(torn pages, lost rows) and careless edits. It holds no secret, so it does not stop a person who
rewrites every later row; comparing the head with one printed in an earlier report does.
"""

from __future__ import annotations

import heapq
import json
import sqlite3
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import Enum
from hashlib import sha256

from controller.record.fault import SQLITE_FAULTS
from controller.record.tables import SCHEMA_VERSION, TABLES, Cell

GENESIS = "0" * 32
"""What the first row is linked to."""


class ChainBreak(Enum):
    """In which way the chain is broken."""

    ALTERED = "altered or moved"
    MISSING = "missing"
    DOUBLED = "doubled"
    HEAD = "does not match the head"
    TORN = "cannot be read"


@dataclass(frozen=True, slots=True)
class ChainFault:
    """One place where the record does not prove itself. `seq` is None where no row can be named."""

    kind: ChainBreak
    seq: int | None
    text: str


@dataclass(frozen=True, slots=True)
class Head:
    """Where the chain ends: the last row's seq and link."""

    seq: int
    chain: str


@dataclass(frozen=True, slots=True)
class ChainCheck:
    """What checking a stretch of rows gave. `head` is the last link seen."""

    rows: int
    head: Head
    faults: tuple[ChainFault, ...]


def link(before: str, table: str, row: Sequence[object]) -> str:
    """Give the link of a row (seq, at_s, wall, fields) after the link `before`.

    SHA-256 (FIPS 180-4) cut to 128 bits: far more than accidents need, and half the bytes on disk.
    """
    canonical = json.dumps([before, table, *row], separators=(",", ":"), default=repr)
    return sha256(canonical.encode("ascii")).hexdigest()[:32]


def read_head(connection: sqlite3.Connection) -> Head | None:
    """Read the head; None when the meta row is absent, doubled or not of its types."""
    rows = connection.execute("SELECT schema_version, head_seq, head_chain FROM meta LIMIT 2").fetchall()
    if len(rows) != 1:
        return None
    version, seq, chain = rows[0]
    if version != SCHEMA_VERSION or not isinstance(seq, int) or not isinstance(chain, str):
        return None
    return Head(seq, chain)


def tail(connection: sqlite3.Connection) -> Head:
    """Find the last row there is, in any table."""
    found = Head(0, GENESIS)
    for table in TABLES:
        row = connection.execute(f"SELECT seq, chain FROM {table.name} ORDER BY seq DESC LIMIT 1").fetchone()
        if row is not None and row[0] > found.seq:
            found = Head(*row)
    return found


def _rows(
    connection: sqlite3.Connection, first: int, last: int
) -> Iterator[tuple[int, str, tuple[Cell, ...]]]:
    """Yield (seq, table, whole row) of all tables in seq order."""

    def one(name: str, columns: str) -> Iterator[tuple[int, str, tuple[Cell, ...]]]:
        query = f"SELECT {columns} FROM {name} WHERE seq BETWEEN ? AND ? ORDER BY seq"
        for row in connection.execute(query, (first, last)):
            yield row[0], name, row

    streams = [one(table.name, table.column_list) for table in TABLES]
    return heapq.merge(*streams, key=lambda item: item[:2])


def _link_before(connection: sqlite3.Connection, seq: int) -> str | None:
    """Give the link stored just before `seq`; None when that row is gone."""
    if seq <= 1:
        return GENESIS
    for table in TABLES:
        row = connection.execute(f"SELECT chain FROM {table.name} WHERE seq = ?", (seq - 1,)).fetchone()
        if row is not None:
            return str(row[0])
    return None


def _walk(
    connection: sqlite3.Connection, first: int, last: int, before: str | None, faults: list[ChainFault]
) -> Iterator[Head]:
    """Check row after row, adding to `faults`, and yield where each row leaves the chain."""
    expected = first
    for seq, table, row in _rows(connection, first, last):
        if seq < expected:
            faults.append(ChainFault(ChainBreak.DOUBLED, seq, f"row {seq} appears again in {table}"))
            continue
        if seq > expected:
            gap = f"row {expected} is" if seq == expected + 1 else f"rows {expected} to {seq - 1} are"
            faults.append(ChainFault(ChainBreak.MISSING, expected, f"{gap} missing"))
            before = None
        stored = row[-1]
        if before is not None and link(before, table, row[:-1]) != stored:
            text = f"row {seq} ({table}) is not as it was written, or not in its place"
            faults.append(ChainFault(ChainBreak.ALTERED, seq, text))
        before = stored if isinstance(stored, str) else None
        expected = seq + 1
        yield Head(seq, str(stored))


def check(connection: sqlite3.Connection, first: int = 1, last: int | None = None) -> ChainCheck:
    """Check the rows `first` to `last`, or to the end and against the head. Never raises on damage."""
    faults: list[ChainFault] = []
    at, rows = Head(first - 1, GENESIS), 0
    text_factory = connection.text_factory
    # A byte that is no UTF-8 must reach the comparison, not stop the walk.
    connection.text_factory = lambda raw: raw.decode("utf-8", "surrogateescape")
    try:
        before = _link_before(connection, first)
        if before is None:
            faults.append(ChainFault(ChainBreak.MISSING, first - 1, f"row {first - 1} is missing"))
        else:
            at = Head(first - 1, before)
        for reached in _walk(connection, first, last if last is not None else 2**62, before, faults):
            at = reached
            rows += 1
        if last is None and read_head(connection) != at:
            text = (
                f"the record ends at row {at.seq}, not where its head says: the last rows are lost or altered"
            )
            faults.append(ChainFault(ChainBreak.HEAD, at.seq, text))
        elif last is not None and at.seq != last:
            faults.append(
                ChainFault(ChainBreak.MISSING, at.seq + 1, f"rows {at.seq + 1} to {last} are missing")
            )
    except SQLITE_FAULTS as error:
        faults.append(
            ChainFault(ChainBreak.TORN, None, f"the file cannot be read after row {at.seq} ({error})")
        )
    finally:
        connection.text_factory = text_factory
    return ChainCheck(rows, at, tuple(faults))
