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
from controller.service.cut_off import close_cut_off
from controller.service.lamp_and_sounder import SOUNDER_ENDS_S
from controller.service.opening import open_batch, plan_for_the_tank
from controller.service.pace import Pace
from controller.service.unfinished import BoardMotions
from controller.service.wall_clock import wall_at
from controller.settings.values import Site

OPERATOR = "operator"
# As long as the sounder sounds.
HEARD_WITHIN_S = SOUNDER_ENDS_S

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

    A wish to stop becomes an operator's stop command, once. After a batch that ended with an alarm the scans
    go on, with everything off, until a person has heard it. Raises PlanRefused, RecordFault, and StartRefused
    when the rig is in no state to start.
    """
    # What a killed host left on goes off, and a lease that it lost is forgiven.
    port.write(ALL_OFF)
    close_cut_off(site, port, pace, record_in(state), around.wall_at, around.motions)
    plan = plan_for_the_tank(site, recipe, port.read())
    journal = Journal(record_in(state))
    opening = open_batch(site, plan, journal)
    ledger = around.writer(journal, around.wall_at)
    try:
        scan = Scan(site, port, ledger, lambda: around.wall_at(pace.now_s()).date())
        opening.lay(scan)
        scan.order(Command.START, OPERATOR)
        ended_as = _scan_to_the_end(scan, pace, around)
    finally:
        try:
            # Off before the record is closed: a disk that hangs must not keep anything on.
            port.write(ALL_OFF)
        finally:
            ledger.close()
    return LiveEnd(opening.batch, ended_as, journal.path, ledger.fault)


def _scan_to_the_end(scan: Scan, pace: Pace, around: Around) -> RunState:
    stopping, ended_s = False, None
    while True:
        next_s = scan.scan(pace.now_s())
        snapshot = scan.snapshot
        if snapshot is None:
            raise RuntimeError("a scan left no snapshot")
        around.on_scan(snapshot)
        require_started(snapshot)
        if snapshot.state in ENDS:
            ended_s = pace.now_s() if ended_s is None else ended_s
            heard = not snapshot.unacknowledged or pace.now_s() - ended_s >= HEARD_WITHIN_S
            if heard or around.should_stop():
                return snapshot.state
        elif not stopping and around.should_stop():
            stopping = True
            scan.order(Command.STOP, OPERATOR)
        pace.wait(next_s)
