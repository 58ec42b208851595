"""One batch as recorded: everything that was planned, done, read, decided and said, typed and in order.

Gathering rows into a batch lives here. Adding up amounts is in `amounts.py`, telling people in
`report.py`, files for other programs in `export.py`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Generic, cast, get_args

from controller.record.chain import ChainCheck
from controller.record.events import (
    BESIDE_TANK,
    AlarmChange,
    AnyEvent,
    BatchEnded,
    BatchStarted,
    Decision,
    DoseAmended,
    DoseIntent,
    DoseResult,
    OperatorAct,
    Reading,
    StateChange,
    StepEnded,
    StepStarted,
)
from controller.record.fault import RecordFault
from controller.record.last_word import Believed, last_words
from controller.record.rows import E, E_co, Row
from controller.record.tables import TABLE_OF
from controller.record.view import JournalView


@dataclass(frozen=True, slots=True)
class Timed(Generic[E_co]):
    """A row with `t_s`, the seconds since the batch began, which run on across a restart."""

    t_s: float
    row: Row[E_co]

    @property
    def event(self) -> E_co:
        """Give the event itself."""
        return self.row.event


@dataclass(frozen=True, slots=True)
class StepRecord:
    """One step with its times; `ended` is None for a step that never ended."""

    started: Timed[StepStarted]
    ended: Timed[StepEnded] | None

    @property
    def took_s(self) -> float | None:
        """Give the seconds it took."""
        return None if self.ended is None else self.ended.t_s - self.started.t_s


@dataclass(frozen=True, slots=True)
class DoseRecord:
    """One dose: what was about to be moved, and what was. `result` None means that nobody knows.

    `amended` is what was seen of it later; amounts are taken from `believed`, never from `result` alone.
    """

    intent: Timed[DoseIntent]
    result: Timed[DoseResult] | None
    amended: tuple[Timed[DoseAmended], ...] = ()

    @property
    def believed(self) -> tuple[Believed, ...]:
        """Give the latest word on each input that it moved, its own first; empty when nobody knows."""
        result = None if self.result is None else self.result.event
        return last_words(self.intent.event, result, (later.event for later in self.amended))

    def of(self, name: str) -> Believed | None:
        """Give the latest word on what it moved of one input."""
        return next((word for word in self.believed if word.input == name), None)

    @property
    def own(self) -> Believed | None:
        """Give the latest word on the input that it was meant for."""
        return self.of(self.intent.event.input)


@dataclass(frozen=True, slots=True)
class BatchRecord:
    """Everything recorded about one batch. `chain` is the check of its stretch of the record."""

    batch: int
    started: Timed[BatchStarted]
    ended: Timed[BatchEnded] | None
    events: tuple[Timed[AnyEvent], ...]
    steps: tuple[StepRecord, ...]
    doses: tuple[DoseRecord, ...]
    chain: ChainCheck

    @property
    def duration_s(self) -> float:
        """Give the seconds from the start to the last thing recorded."""
        return self.events[-1].t_s

    @property
    def readings(self) -> tuple[Timed[Reading], ...]:
        """Give the readings in order."""
        return of_kind(self.events, Reading)

    @property
    def accepted(self) -> tuple[Timed[Reading], ...]:
        """Give the readings that may be judged."""
        return tuple(reading for reading in self.readings if reading.event.accepted)

    @property
    def alarms(self) -> tuple[Timed[AlarmChange], ...]:
        """Give the changes of alarms in order."""
        return of_kind(self.events, AlarmChange)

    @property
    def acts(self) -> tuple[Timed[OperatorAct], ...]:
        """Give what people, the schedule and remote commands asked for."""
        return of_kind(self.events, OperatorAct)

    @property
    def decisions(self) -> tuple[Timed[Decision], ...]:
        """Give the judgements of the controller."""
        return of_kind(self.events, Decision)

    @property
    def states(self) -> tuple[Timed[StateChange], ...]:
        """Give the changes of the run state."""
        return of_kind(self.events, StateChange)


@dataclass(frozen=True, slots=True)
class BatchSummary:
    """One line of the list of batches."""

    started: Row[BatchStarted]
    ended: Row[BatchEnded] | None

    @property
    def batch(self) -> int:
        """Give the batch number."""
        return self.started.event.batch

    @property
    def beside_tank(self) -> bool:
        """Tell whether it is no night: all of it went into a vessel beside the tank."""
        return is_beside_tank(self.started.event)


def is_beside_tank(started: BatchStarted) -> bool:
    """Tell whether a batch is no night: its recipe is then a purpose and a pump, as no recipe is called."""
    purpose, divided, _pump = started.recipe.partition(": ")
    return bool(divided) and purpose in {one.value for one in BESIDE_TANK}


def of_kind(events: Iterable[Timed[AnyEvent]], kind: type[E]) -> tuple[Timed[E], ...]:
    """Pick the events of one class."""
    return tuple(cast(Timed[E], event) for event in events if type(event.event) is kind)


def list_batches(path: Path) -> tuple[BatchSummary, ...]:
    """List every batch, oldest first. RecordFault when the record cannot be read."""
    with JournalView(path) as view:
        ends = {row.event.batch: row for row in view.rows(BatchEnded)}
        return tuple(BatchSummary(row, ends.get(row.event.batch)) for row in view.rows(BatchStarted))


def read_batch(path: Path, batch: int | None = None) -> BatchRecord:
    """Read one batch, or the last night; also while it is being written.

    RecordFault when the record cannot be read or holds no such batch.
    """
    with JournalView(path) as view:
        starts = view.rows(BatchStarted)
        place = _find(path, starts, batch)
        start = starts[place]
        following = starts[place + 1].seq - 1 if place + 1 < len(starts) else None
        events = _timed(start, _gather(view, start, following))
        return BatchRecord(
            batch=start.event.batch,
            started=of_kind(events, BatchStarted)[0],
            ended=next(iter(of_kind(events, BatchEnded)[-1:]), None),
            events=events,
            steps=_steps(events),
            doses=_doses(events),
            chain=view.check(start.seq, following),
        )


def released_before(path: Path, recipe: str) -> Iterator[BatchRecord]:
    """Read the released batches of a recipe, the newest first, each when it is asked for."""
    for summary in reversed(list_batches(path)):
        ended = summary.ended
        if summary.started.event.recipe == recipe and ended is not None and ended.event.released:
            yield read_batch(path, summary.batch)


def _find(path: Path, starts: Sequence[Row[BatchStarted]], batch: int | None) -> int:
    """Give the place of the batch in the list; the last one when no number is asked for."""
    if not starts:
        raise RecordFault(path, "it holds no batch yet", "run one first, or name another folder with --state")
    if batch is None:
        nights = [place for place, row in enumerate(starts) if not is_beside_tank(row.event)]
        return nights[-1] if nights else len(starts) - 1
    for place in reversed(range(len(starts))):
        if starts[place].event.batch == batch:
            return place
    known = f"it holds batches {starts[0].event.batch} to {starts[-1].event.batch}"
    raise RecordFault(path, f"there is no batch {batch}", f"{known}, see `tankhand record list`")


def _gather(view: JournalView, start: Row[BatchStarted], following: int | None) -> list[Row[AnyEvent]]:
    """Read all rows of the batch in order of writing.

    Readings are many, and all lie before the next batch begins; the few other rows are looked for
    in the whole record, so that an act written early or late is not lost.
    """
    found: list[Row[AnyEvent]] = []
    for kind in get_args(AnyEvent):
        if kind is Reading:
            last = 2**62 if following is None else following
            found += view.rows(Reading, batch=start.event.batch, first=start.seq, last=last)
        elif TABLE_OF[kind].has_batch:
            found += view.rows(kind, batch=start.event.batch)
    return sorted(found, key=lambda row: row.seq)


def _timed(start: Row[BatchStarted], rows: Sequence[Row[AnyEvent]]) -> tuple[Timed[AnyEvent], ...]:
    """Give every row its seconds since the start.

    Monotonic time is used while it runs on; where it falls back the computer was restarted, and the
    wall clock bridges the gap.
    """
    before = rows[0]
    t_s = min(0.0, before.at_s - start.at_s) if before is not start else 0.0
    timed: list[Timed[AnyEvent]] = []
    for row in rows:
        step_s = row.at_s - before.at_s
        if step_s < 0:
            step_s = max(0.0, (row.wall - before.wall).total_seconds())
        t_s = 0.0 if row.seq == start.seq else t_s + step_s
        timed.append(Timed(t_s, row))
        before = row
    return tuple(timed)


def _steps(events: tuple[Timed[AnyEvent], ...]) -> tuple[StepRecord, ...]:
    ends: dict[int, list[Timed[StepEnded]]] = {}
    for end in of_kind(events, StepEnded):
        ends.setdefault(end.event.number, []).append(end)
    return tuple(
        StepRecord(start, _first_after(start.row.seq, ends.get(start.event.number, [])))
        for start in of_kind(events, StepStarted)
    )


def _doses(events: tuple[Timed[AnyEvent], ...]) -> tuple[DoseRecord, ...]:
    results: dict[int, list[Timed[DoseResult]]] = {}
    for result in of_kind(events, DoseResult):
        results.setdefault(result.event.dose_id, []).append(result)
    amended: dict[int, list[Timed[DoseAmended]]] = {}
    for later in of_kind(events, DoseAmended):
        amended.setdefault(later.event.dose_id, []).append(later)
    return tuple(
        DoseRecord(
            intent,
            _first_after(intent.row.seq, results.get(intent.event.dose_id, [])),
            tuple(later for later in amended.get(intent.event.dose_id, []) if later.row.seq > intent.row.seq),
        )
        for intent in of_kind(events, DoseIntent)
    )


def _first_after(seq: int, candidates: Sequence[Timed[E]]) -> Timed[E] | None:
    return next((candidate for candidate in candidates if candidate.row.seq > seq), None)
