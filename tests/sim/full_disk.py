"""A disk that fills up under the record of a simulated night."""

from __future__ import annotations

from collections.abc import Sequence

from pytest_mock import MockerFixture

from controller.record.fault import RecordFault
from controller.record.journal import Journal
from controller.record.tables import Entry


def fill_disk_after(mocker: MockerFixture, writes: int) -> None:
    """Let so many transactions through, then refuse every one."""
    real_append, done = Journal.append, [0]

    def append(journal: Journal, entries: Sequence[Entry]) -> int:
        done[0] += 1
        if done[0] > writes:
            raise RecordFault(journal.path, "the disk is full", "free some space")
        return real_append(journal, entries)

    mocker.patch.object(Journal, "append", append)
