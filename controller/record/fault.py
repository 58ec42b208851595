"""The one error of the record room: which file, what is wrong with it, and what to do.

Beside it only the list of what a damaged file makes the database raise.
"""

from __future__ import annotations

import sqlite3
from pathlib import Path

from controller.settings.faults import plain

SQLITE_FAULTS = (sqlite3.Error, UnicodeDecodeError)
"""What reading a damaged file may raise: SQLite's messages quote damaged names, which may be no UTF-8."""


class RecordFault(Exception):
    """The record cannot be read or written; `str()` is one line with file, fault and remedy."""

    def __init__(self, file: Path, what: str, remedy: str) -> None:
        super().__init__(plain(f"{file}: {what}; {remedy}"))
        self.file = file
        self.what = what
        self.remedy = remedy
