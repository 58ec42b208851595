"""Reading a record without writing it, also while a batch is being written.

Opening for reading lives here. A view takes no write lock and sees the record as it was when the
view was opened, whatever is appended meanwhile.
"""

from __future__ import annotations

import sqlite3
from pathlib import Path
from types import TracebackType
from typing import Self

from controller.record.chain import ChainCheck, check
from controller.record.fault import SQLITE_FAULTS, RecordFault
from controller.record.rows import E, Row, read_rows
from controller.record.schema import recognise


class JournalView:
    """A record open for reading. RecordFault when the file is missing, no record, or unreadable."""

    def __init__(self, path: Path) -> None:
        self.path = path
        if not path.is_file():
            raise RecordFault(
                path, "there is no record here", "run a batch first, or name its folder with --state"
            )
        self._connection = _open(path)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def rows(
        self, event: type[E], *, batch: int | None = None, first: int = 1, last: int = 2**62
    ) -> tuple[Row[E], ...]:
        """Read rows of one event class in order, of one batch or a stretch of seq if wanted."""
        return read_rows(self._connection, self.path, event, batch, first, last)

    def check(self, first: int = 1, last: int | None = None) -> ChainCheck:
        """Check the chain from row `first` to `last`, or to the end and against the head."""
        return check(self._connection, first, last)

    def close(self) -> None:
        """Let go of the file. Calling it again does nothing."""
        self._connection.close()


def _open(path: Path) -> sqlite3.Connection:
    try:
        return _begin(path, "mode=rw")
    except SQLITE_FAULTS as error:
        if Path(f"{path}-wal").exists():
            raise _read_fault(path, error) from error
    try:
        # A closed record in a folder that cannot be written: no WAL is needed or can be made.
        return _begin(path, "immutable=1")
    except SQLITE_FAULTS as error:
        raise _read_fault(path, error) from error


def _begin(path: Path, how: str) -> sqlite3.Connection:
    """Open and start one read transaction, so that every table is seen at the same moment."""
    connection = sqlite3.connect(
        f"{path.resolve().as_uri()}?{how}", uri=True, timeout=2.0, isolation_level=None
    )
    try:
        connection.text_factory = lambda raw: raw.decode("utf-8", "replace")
        connection.execute("PRAGMA query_only=ON")
        connection.execute("BEGIN")
        if not recognise(connection, path):
            raise RecordFault(path, "it is empty", "run a batch first, or name another folder with --state")
    except BaseException:
        connection.close()
        raise
    return connection


def _read_fault(path: Path, error: Exception) -> RecordFault:
    what = str(error)
    if "not a database" in what or "malformed" in what:
        return RecordFault(
            path, f"it is damaged or no record ({what})", "restore it from a copy, or name another folder"
        )
    return RecordFault(
        path, f"it cannot be read ({what})", "check that this user may read the file and its folder"
    )
