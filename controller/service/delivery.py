"""Counted amounts into a vessel beside the tank: for calibrating, priming and flushing, with the rig at rest.

Every delivery is a batch of its own, run by the same scan as a night: the same interlocks, ids, caps and
record. Nothing moves between two of them, so that a person may take their time. What is weighed, and what
follows from it, is `controller.measure`.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from controller.plan.as_json import plan_as_json
from controller.plan.delivery import Delivery, delivery_plan
from controller.record.events import AnyEvent, DoseOutcome, DoseResult
from controller.record.fault import RecordFault
from controller.record.journal import Journal
from controller.record.place import record_in
from controller.record.recovery import last_batch, last_dose_id
from controller.record.writer import Ledger
from controller.run.request import ALL_OFF, RigPort
from controller.run.scan import Scan
from controller.run.sequence import ENDS, Command, RunState
from controller.run.snapshot import require_started
from controller.service.cut_off import close_cut_off
from controller.service.live import OPERATOR, Around
from controller.service.pace import Pace
from controller.settings.values import Site


@dataclass(frozen=True, slots=True)
class Delivered:
    """What became of one delivery. `counts` are proven; `whole`: all that was wanted, without a doubt."""

    batch: int
    counts: int
    whole: bool
    ended_as: RunState
    reason: str
    stopped_by_person: bool


class DeliveryBench:
    """A rig at rest that delivers when it is asked to. Made by `delivery_bench`."""

    def __init__(
        self, site: Site, port: RigPort, pace: Pace, around: Around, ledger: Ledger, path: Path
    ) -> None:
        self._site = site
        self._port = port
        self._pace = pace
        self._around = around
        self._tap = _Tap(ledger)
        self._path = path
        self._batch, self._dose_id = 0, 0

    def number_after(self, batch: int, dose_id: int) -> None:
        """Number batches and doses after the last ones on record."""
        self._batch, self._dose_id = batch, dose_id

    def deliver(self, wanted: Delivery) -> Delivered:
        """Move one amount; every output is off when this returns, and its result is on disk.

        A hold ends it: what was delivered in pieces cannot be weighed as one. Raises PlanRefused, and
        StartRefused when the rig is in no state to start; RecordFault when the record cannot be kept.
        """
        plan = delivery_plan(self._site, wanted)
        self._batch += 1
        self._tap.result = None
        self._port.write(ALL_OFF)
        around, pace = self._around, self._pace
        scan = Scan(self._site, self._port, self._tap, lambda: around.wall_at(pace.now_s()).date())
        scan.load(plan, json.dumps(plan_as_json(plan)), self._batch, self._dose_id + 1)
        scan.order(Command.START, OPERATOR)
        try:
            ended_as, reason = self._to_the_end(scan)
        finally:
            self._port.write(ALL_OFF)
        if self._tap.fault is not None:
            raise RecordFault(self._path, self._tap.fault, "free space on the disk, then begin again")
        return self._delivered(ended_as, reason)

    def _to_the_end(self, scan: Scan) -> tuple[RunState, str]:
        """Scan until the batch has ended; give its end, and the reason of the hold that led to it if any."""
        held_for: str | None = None
        while True:
            next_s = scan.scan(self._pace.now_s())
            now = scan.snapshot
            if now is None:
                raise RuntimeError("a scan left no snapshot")
            self._around.on_scan(now)
            require_started(now)
            if now.state in ENDS:
                return now.state, held_for or now.reason
            held = now.state is RunState.HELD
            if held_for is None and (held or self._around.should_stop()):
                held_for = now.reason if held else ""
                scan.order(Command.STOP, OPERATOR)
            self._pace.wait(next_s)

    def _delivered(self, ended_as: RunState, reason: str) -> Delivered:
        result, by_person = self._tap.result, self._around.should_stop()
        if result is None:
            return Delivered(self._batch, 0, False, ended_as, reason, by_person)
        self._dose_id = max(self._dose_id, result.dose_id)
        whole = ended_as is RunState.COMPLETE and result.outcome == DoseOutcome.DONE
        return Delivered(self._batch, result.count_done, whole, ended_as, reason, by_person)


@contextmanager
def delivery_bench(
    site: Site, port: RigPort, pace: Pace, state: Path, around: Around
) -> Iterator[DeliveryBench]:
    """Give a bench on this rig, its record kept in `state`; all is off and written when the block ends.

    Raises RecordFault when the record cannot be read or an earlier run's open ends cannot be closed.
    """
    path = record_in(state)
    port.write(ALL_OFF)
    close_cut_off(site, port, pace, path, around.wall_at, around.motions)
    journal = Journal(path)
    last, last_dose = last_batch(journal), last_dose_id(journal)
    ledger = around.writer(journal, around.wall_at)
    try:
        bench = DeliveryBench(site, port, pace, around, ledger, path)
        bench.number_after(0 if last is None else last.started.event.batch, last_dose)
        yield bench
    finally:
        try:
            port.write(ALL_OFF)
        finally:
            ledger.close()


class _Tap:
    """A ledger that remembers the last result of a dose on its way to the record."""

    def __init__(self, ledger: Ledger) -> None:
        self._ledger = ledger
        self.result: DoseResult | None = None

    def put(self, at_s: float, event: AnyEvent) -> int:
        """Hand it on."""
        if isinstance(event, DoseResult):
            self.result = event
        return self._ledger.put(at_s, event)

    def durable(self, ticket: int) -> bool:
        """Tell whether it is on disk."""
        return self._ledger.durable(ticket)

    @property
    def fault(self) -> str | None:
        """Say why the record is not being kept, or None."""
        return self._ledger.fault

    def close(self) -> None:
        """Close the record."""
        self._ledger.close()
