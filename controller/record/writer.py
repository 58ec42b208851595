"""Getting events into the journal: one protocol, one writer with a thread and one without.

`ThreadWriter` serves the live rig, where the scan must never wait for a disk. `InlineWriter` serves
the simulator, where the same events must give the same bytes. What is durable and what failed is
said here; what to do about it is decided by whoever asked.
"""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable, Sequence
from datetime import datetime
from itertools import islice
from typing import Protocol

from controller.record.events import (
    AlarmChange,
    AnyEvent,
    BatchEnded,
    BatchStarted,
    DoseIntent,
    DoseResult,
    OperatorAct,
    StepEnded,
)
from controller.record.fault import RecordFault
from controller.record.tables import Entry, entry

AT_ONCE: frozenset[type[AnyEvent]] = frozenset(
    (DoseIntent, DoseResult, BatchStarted, BatchEnded, StepEnded, AlarmChange, OperatorAct)
)
"""Events that wait for no company: they are flushed as soon as they are put."""

REFUSED = 0
"""The ticket of an event that could not be accepted; it is never durable."""

WallClock = Callable[[float], datetime]
"""Maps monotonic seconds to the wall clock, with offset."""


class Sink(Protocol):
    """What a writer needs of the journal."""

    def append(self, entries: Sequence[Entry]) -> int:
        """Write all or nothing, durably."""
        ...

    def close(self) -> None:
        """Let go of the file."""
        ...


class Ledger(Protocol):
    """Where the controller puts what happened."""

    def put(self, at_s: float, event: AnyEvent) -> int:
        """Hand over an event; return its ticket, or `REFUSED`. Never raises and never waits for a disk."""
        ...

    def durable(self, ticket: int) -> bool:
        """Tell whether the event with this ticket, and so every one before it, is on disk."""
        ...

    @property
    def fault(self) -> str | None:
        """Say in one line why the record is not being kept, or None.

        A disk that fills and is freed again clears by itself, for nothing was lost; an event that
        was refused never clears, for the record has a hole.
        """
        ...

    def close(self) -> None:
        """Write what is left and close the journal; look at `fault` afterwards."""
        ...


class InlineWriter:
    """Write in the caller's own time: same events, same bytes.

    Readings wait until `group` events have come together or one that must be on disk at once. At
    most `limit` events are kept while the disk refuses them.
    """

    def __init__(self, journal: Sink, wall_at: WallClock, *, group: int = 256, limit: int = 10_000) -> None:
        self._journal = journal
        self._wall_at = wall_at
        self._group = group
        self._limit = limit
        self._waiting: list[Entry] = []
        self._written = 0
        self._failing: str | None = None
        self._hole: str | None = None

    def put(self, at_s: float, event: AnyEvent) -> int:
        """Take an event; flush at once if it is one of `AT_ONCE`, the group is full, or one is overdue."""
        try:
            taken = _accept(self._wall_at, at_s, event, len(self._waiting), self._limit)
        except ValueError as error:
            self._hole = self._hole or str(error)
            return REFUSED
        self._waiting.append(taken)
        ticket = self._written + len(self._waiting)
        if type(event) in AT_ONCE or len(self._waiting) >= self._group or self._failing is not None:
            self._flush()
        return ticket

    def durable(self, ticket: int) -> bool:
        """Tell whether it is on disk; an event still waiting for company is flushed now."""
        if ticket > self._written:
            self._flush()
        return REFUSED < ticket <= self._written

    @property
    def fault(self) -> str | None:
        """Say why the record is not being kept, or None."""
        return self._hole or self._failing

    def close(self) -> None:
        """Write what is left and close the journal."""
        self._flush()
        self._journal.close()

    def _flush(self) -> None:
        if not self._waiting:
            return
        try:
            self._journal.append(self._waiting)
        except RecordFault as fault:
            self._failing = str(fault)
            return
        self._written += len(self._waiting)
        self._waiting.clear()
        self._failing = None


class ThreadWriter:
    """Write in a thread of its own; whatever has come together meanwhile is one commit.

    At most `limit` events wait; one more is refused and that is a fault for good. `group` bounds
    one transaction. A failed write is tried again with the next event and at closing.
    """

    def __init__(self, journal: Sink, wall_at: WallClock, *, limit: int = 10_000, group: int = 512) -> None:
        self._journal = journal
        self._wall_at = wall_at
        self._limit = limit
        self._group = group
        self._waiting: deque[Entry] = deque()
        self._written = 0
        self._failing: str | None = None
        self._hole: str | None = None
        self._closing = False
        self._news = threading.Condition()
        self._thread = threading.Thread(target=self._run, name="record writer", daemon=True)
        self._thread.start()

    def put(self, at_s: float, event: AnyEvent) -> int:
        """Queue an event and return its ticket at once."""
        with self._news:
            try:
                if self._closing:
                    raise ValueError("the record is closed")
                taken = _accept(self._wall_at, at_s, event, len(self._waiting), self._limit)
            except ValueError as error:
                self._hole = self._hole or str(error)
                return REFUSED
            self._waiting.append(taken)
            self._news.notify()
            return self._written + len(self._waiting)

    def durable(self, ticket: int) -> bool:
        """Tell whether the commit that holds it has returned."""
        with self._news:
            return REFUSED < ticket <= self._written

    @property
    def fault(self) -> str | None:
        """Say why the record is not being kept, or None."""
        with self._news:
            return self._hole or self._failing

    def close(self) -> None:
        """Write what is left, end the thread and close the journal. Calling it again does nothing."""
        with self._news:
            already = self._closing
            self._closing = True
            self._news.notify()
        self._thread.join()
        if not already:
            self._journal.close()

    def _run(self) -> None:
        try:
            while self._write_next():
                pass
        except Exception as error:
            with self._news:
                self._hole = f"the record writer stopped: {error}"

    def _write_next(self) -> bool:
        """Wait for events and write one group of them; False when all is done."""
        with self._news:
            self._news.wait_for(lambda: self._waiting or self._closing)
            entries = tuple(islice(self._waiting, self._group))
            seen, last_try = len(self._waiting), self._closing
        if not entries:
            return False
        try:
            self._journal.append(entries)
        except RecordFault as fault:
            return self._await_retry(str(fault), seen, last_try)
        with self._news:
            for _ in entries:
                self._waiting.popleft()
            self._written += len(entries)
            self._failing = None
        return True

    def _await_retry(self, fault: str, seen: int, last_try: bool) -> bool:
        """Keep what could not be written and wait for an event beyond `seen`; False when there is no next."""
        with self._news:
            self._failing = fault
            if not last_try:
                self._news.wait_for(lambda: len(self._waiting) > seen or self._closing)
        return not last_try


def _accept(wall_at: WallClock, at_s: float, event: AnyEvent, waiting: int, limit: int) -> Entry:
    """Check an event before it is taken. ValueError says why it is refused."""
    if waiting >= limit:
        lost = type(event).__name__
        raise ValueError(f"the record has a hole: {lost} was lost while {limit} events waited for the disk")
    return entry(at_s, wall_at(at_s), event)
