"""One batch run live: rig, record and scan joined, scan after scan until the batch has ended.

Rig, pace and record are handed in, so that the same loop serves the wired rig and the simulated ones.
Which rig, and what is shown of it, is chosen by whoever calls.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from controller.record.journal import Journal
from controller.record.place import record_in
from controller.record.writer import Ledger, WallClock
from controller.run.request import ALL_OFF, RigPort
from controller.run.scan import Scan
from controller.run.sequence import ENDS, Command, RunState
from controller.run.snapshot import Snapshot, require_started
from controller.service.opening import open_batch, plan_for_the_tank
from controller.service.pace import Pace
from controller.service.unfinished import BoardMotions, find_unfinished
from controller.service.wall_clock import wall_at
from controller.settings.values import Site

OPERATOR = "operator"

Writer = Callable[[Journal, WallClock], Ledger]


@dataclass(frozen=True, slots=True)
class Around:
    """What a live batch is given: time of day, the board's memory, the record's writer, and people."""

    wall_start: datetime
    motions: BoardMotions
    writer: Writer
    should_stop: Callable[[], bool]
    on_scan: Callable[[Snapshot], None]

    def wall_at(self, at_s: float) -> datetime:
        """Give the time of day of a moment of the pace."""
        return wall_at(self.wall_start, at_s)


@dataclass(frozen=True, slots=True)
class LiveEnd:
    """How a live batch ended, and where its record is. `record_fault` None: the record is whole."""

    batch: int
    ended_as: RunState
    record_path: Path
    record_fault: str | None


def run_live(site: Site, recipe: str, port: RigPort, pace: Pace, state: Path, around: Around) -> LiveEnd:
    """Run one batch from its preconditions to the end of its keeping; every output is off when this returns.

    A wish to stop becomes an operator's stop command, once. Raises PlanRefused, RecordFault, and StartRefused
    when the rig is in no state to start.
    """
    plan = plan_for_the_tank(site, recipe, port.read())
    journal = Journal(record_in(state))
    unfinished, opening = find_unfinished(journal), open_batch(site, plan, journal)
    ledger = around.writer(journal, around.wall_at)
    try:
        unfinished.close(ledger, around.motions, site, pace.now_s())
        scan = Scan(site, port, ledger, lambda: around.wall_at(pace.now_s()).date())
        opening.lay(scan)
        scan.order(Command.START, OPERATOR)
        ended_as = _scan_to_the_end(scan, pace, around)
    finally:
        # Off before the record is closed: a disk that hangs must not keep anything on.
        port.write(ALL_OFF)
        ledger.close()
    return LiveEnd(opening.batch, ended_as, journal.path, ledger.fault)


def _scan_to_the_end(scan: Scan, pace: Pace, around: Around) -> RunState:
    stopping = False
    while True:
        next_s = scan.scan(pace.now_s())
        snapshot = scan.snapshot
        if snapshot is None:
            raise RuntimeError("a scan left no snapshot")
        around.on_scan(snapshot)
        require_started(snapshot)
        if snapshot.state in ENDS:
            return snapshot.state
        if not stopping and around.should_stop():
            stopping = True
            scan.order(Command.STOP, OPERATOR)
        pace.wait(next_s)
