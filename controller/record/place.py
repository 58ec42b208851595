"""Where a record lies: one file in the folder that keeps the state. Nothing is opened here."""

from __future__ import annotations

from pathlib import Path

RECORD_FILE = "record.sqlite"


def record_in(state: Path) -> Path:
    """Give the place of the record in a state folder."""
    return state / RECORD_FILE
