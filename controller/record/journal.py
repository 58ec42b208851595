"""The journal: the one place that writes the record, durably and in one chain.

One SQLite file in WAL mode with synchronous=FULL, so that a commit that returned has reached the disk.
One writer: an advisory lock beside the file refuses a second instance, and readers are never locked out.
No thread and no clock live here (`writer.py` has them); reading without writing is in `view.py`.
"""

from __future__ import annotations

import contextlib
import fcntl
import os
import sqlite3
from collections.abc import Sequence
from pathlib import Path
from types import TracebackType
from typing import Self

from controller.record.chain import ChainFault, Head, check, link, read_head, tail
from controller.record.fault import SQLITE_FAULTS, RecordFault
from controller.record.rows import LOOK_CLOSER, E, Row, read_rows
from controller.record.schema import make_schema, recognise
from controller.record.tables import Entry

_SETTINGS = (
    "PRAGMA page_size=4096",
    "PRAGMA auto_vacuum=NONE",
    "PRAGMA encoding='UTF-8'",
    "PRAGMA journal_mode=WAL",
    "PRAGMA synchronous=FULL",
    # Without it, unused parts of a page hold whatever the memory held: same night, other bytes.
    "PRAGMA secure_delete=ON",
)
_MOVE_ASIDE = "move it to another folder, keep it as evidence, and start again"


class Journal:
    """The record, open for appending by this one owner. Safe to hand to one other thread.

    `busy_s` is how long to wait for another program that holds the file. RecordFault when the file
    is someone else's, newer, damaged at its end, already open for writing, or cannot be written.
    """

    def __init__(self, path: Path, *, busy_s: float = 2.0) -> None:
        self.path = path
        self._lock_fd = _take_lock(path)
        self._connection: sqlite3.Connection | None = None
        try:
            self._connection, self._head = _open(path, busy_s)
        except BaseException:
            self.close()
            raise

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    @property
    def head(self) -> Head:
        """Give the last row's seq and link; seq 0 when nothing is recorded yet."""
        return self._head

    def append(self, entries: Sequence[Entry]) -> int:
        """Write all entries in one durable transaction, or none of them; return the last seq.

        RecordFault (disk full, locked, input or output error) leaves the record as it was, and the
        same entries may be tried again.
        """
        connection = self._open_connection()
        seq, chain = self._head.seq, self._head.chain
        try:
            connection.execute("BEGIN IMMEDIATE")
            for entry in entries:
                seq += 1
                row = (seq, entry.at_s, entry.wall, *entry.cells)
                chain = link(chain, entry.table.name, row)
                connection.execute(entry.table.insert_sql, (*row, chain))
            connection.execute("UPDATE meta SET head_seq = ?, head_chain = ?", (seq, chain))
            connection.execute("COMMIT")
        except SQLITE_FAULTS as error:
            _roll_back(connection)
            raise _write_fault(self.path, error) from error
        self._head = Head(seq, chain)
        return seq

    def verify(self) -> tuple[ChainFault, ...]:
        """Check every row and the end of the record; no fault means that the chain holds."""
        return check(self._open_connection()).faults

    def rows(
        self, event: type[E], *, batch: int | None = None, first: int = 1, last: int = 2**62
    ) -> tuple[Row[E], ...]:
        """Read rows of one event class in order, of one batch or a stretch of seq if wanted."""
        return read_rows(self._open_connection(), self.path, event, batch, first, last)

    def close(self) -> None:
        """Fold the WAL into the file and let go of it. Calling it again does nothing."""
        if self._connection is not None:
            # If it fails nothing is lost: what was committed stays in the WAL for the next opening.
            with contextlib.suppress(*SQLITE_FAULTS):
                self._connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
            self._connection.close()
            self._connection = None
        if self._lock_fd >= 0:
            os.close(self._lock_fd)
            self._lock_fd = -1

    def _open_connection(self) -> sqlite3.Connection:
        if self._connection is None:
            raise RecordFault(self.path, "the record is closed", "open it again before using it")
        return self._connection


def _take_lock(path: Path) -> int:
    """Lock out a second writer. The lock file stays: removing it would open a race."""
    if not path.parent.is_dir():
        raise RecordFault(path, "its folder does not exist", "make the folder, or name another with --state")
    try:
        lock_fd = os.open(f"{path}.lock", os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o644)
    except OSError as error:
        what = f"its folder cannot be written ({error.strerror})"
        raise RecordFault(
            path, what, "give this user write permission, or name another with --state"
        ) from error
    try:
        fcntl.flock(lock_fd, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as error:
        os.close(lock_fd)
        what = "another Tankhand is already writing it"
        raise RecordFault(path, what, "stop the other one, or name another folder with --state") from error
    return lock_fd


def _open(path: Path, busy_s: float) -> tuple[sqlite3.Connection, Head]:
    fresh = not path.exists()
    try:
        # One thread at a time uses it: the one that opens it, then the writer's own.
        connection = sqlite3.connect(path, timeout=busy_s, isolation_level=None, check_same_thread=False)
    except SQLITE_FAULTS as error:
        raise _write_fault(path, error) from error
    try:
        head = _prepare(connection, path)
    except BaseException as error:
        _roll_back(connection)
        connection.close()
        if isinstance(error, SQLITE_FAULTS):
            raise _write_fault(path, error) from error
        raise
    if fresh:
        # The file's name must survive a power cut as well as its content.
        folder_fd = os.open(path.parent, os.O_RDONLY)
        os.fsync(folder_fd)
        os.close(folder_fd)
    return connection, head


def _prepare(connection: sqlite3.Connection, path: Path) -> Head:
    """Look before touching: a file that is not ours keeps every byte."""
    known = recognise(connection, path)
    for setting in _SETTINGS:
        connection.execute(setting)
    if not known:
        make_schema(connection)
    head = read_head(connection)
    if head is None or head != tail(connection):
        raise RecordFault(path, "its last rows are lost or altered", f"{LOOK_CLOSER}, then {_MOVE_ASIDE}")
    return head


def _roll_back(connection: sqlite3.Connection) -> None:
    if connection.in_transaction:
        # It may have rolled back by itself, as SQLite does on a full disk.
        with contextlib.suppress(*SQLITE_FAULTS):
            connection.execute("ROLLBACK")


def _write_fault(path: Path, error: Exception) -> RecordFault:
    what = str(error)
    if "full" in what:
        return RecordFault(
            path, "the disk is full", "free some space; nothing is dosed until the record can be written"
        )
    if "locked" in what or "busy" in what:
        return RecordFault(path, "another program holds it locked", "close that program")
    if "readonly" in what:
        return RecordFault(
            path, "it cannot be written", "give this user write permission, or name another with --state"
        )
    if "not a database" in what or "malformed" in what:
        return RecordFault(path, f"it is damaged or no record ({what})", _MOVE_ASIDE)
    return RecordFault(path, f"it cannot be written ({what})", "check the disk and the permissions")
