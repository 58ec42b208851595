"""What a controller that starts anew must know of what it was doing when it stopped.

Pure questions to the record, answered from rows alone. Asking the board and deciding whether the
batch may go on happen elsewhere.
"""

from __future__ import annotations

from dataclasses import dataclass

from controller.record.events import BatchEnded, BatchStarted, DoseIntent, DoseResult
from controller.record.rows import Row, Source


@dataclass(frozen=True, slots=True)
class LastBatch:
    """The last batch that was begun; `ended` is None when it was cut off."""

    started: Row[BatchStarted]
    ended: Row[BatchEnded] | None


def open_doses(journal: Source) -> tuple[DoseIntent, ...]:
    """Give the intents that no result followed, oldest first: doses of which nobody knows.

    The recovery after a power cut, which is still to come, asks the board about each of these before
    anything else may move. The same id written again is the same motion: only its last intent is given.
    """
    marks = sorted(_dose_rows(journal), key=lambda row: row.seq)
    unanswered: dict[int, DoseIntent] = {}
    for mark in marks:
        unanswered.pop(mark.event.dose_id, None)
        if isinstance(mark.event, DoseIntent):
            unanswered[mark.event.dose_id] = mark.event
    return tuple(unanswered.values())


def last_dose_id(journal: Source) -> int:
    """Give the highest dose id ever meant or done, 0 if none: the next id must be above it."""
    return max((row.event.dose_id for row in _dose_rows(journal)), default=0)


def last_batch(journal: Source) -> LastBatch | None:
    """Give the last batch that was begun, or None."""
    starts = journal.rows(BatchStarted)
    if not starts:
        return None
    started = starts[-1]
    batch = started.event.batch
    ends = journal.rows(BatchEnded, batch=batch, first=started.seq)
    return LastBatch(started, ends[-1] if ends else None)


def _dose_rows(journal: Source) -> list[Row[DoseIntent] | Row[DoseResult]]:
    return [*journal.rows(DoseIntent), *journal.rows(DoseResult)]
