"""Calibrations on record: putting one there, and reading back what earlier ones found.

What is on a certificate is said by whoever calibrates; its page is made by the command line.
"""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from controller.record.events import Calibration
from controller.record.fault import RecordFault
from controller.record.journal import Journal
from controller.record.place import record_in
from controller.record.rows import Row
from controller.record.view import JournalView
from controller.record.writer import InlineWriter


def keep_calibration(state: Path, moment: datetime, found: Calibration) -> None:
    """Put one calibration on record, on disk when this returns. Raises RecordFault when it cannot be."""
    with Journal(record_in(state)) as journal:
        writer = InlineWriter(journal, lambda _at_s: moment)
        ticket = writer.put(0.0, found)
        if not writer.durable(ticket):
            why = writer.fault or "the calibration was not taken"
            raise RecordFault(journal.path, why, "free space on the disk, then calibrate again")


def calibrations(state: Path, item: str | None = None) -> tuple[Row[Calibration], ...]:
    """Give the calibrations on record, oldest first; `item` None: of everything. Raises RecordFault."""
    with JournalView(record_in(state)) as view:
        return tuple(row for row in view.rows(Calibration) if item is None or row.event.item == item)
