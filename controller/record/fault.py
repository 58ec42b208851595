"""The one error of the record room: which file, what is wrong with it, and what to do.

Nothing else lives here.
"""

from __future__ import annotations

from pathlib import Path


class RecordFault(Exception):
    """The record cannot be read or written; `str()` is one line with file, fault and remedy."""

    def __init__(self, file: Path, what: str, remedy: str) -> None:
        super().__init__(f"{file}: {what}; {remedy}")
        self.file = file
        self.what = what
        self.remedy = remedy
