"""One whole night on the simulated rig, in virtual time: the scan, the rig, the record and nothing else.

The loop here is what a service does live, with the clock replaced by the rig's. What happened is read back
from the record; what was physically true is taken from the rig.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from controller.plan.steps import Purpose
from controller.plan.times import floor_s
from controller.plan.trim_round import trim_round
from controller.record.batch_record import BatchRecord, read_batch
from controller.record.fault import RecordFault
from controller.record.journal import Journal
from controller.record.place import record_in
from controller.record.writer import InlineWriter
from controller.run.scan import Scan
from controller.run.sequence import ENDS, Command
from controller.run.snapshot import Snapshot, require_started
from controller.service.opening import open_batch, plan_for_the_tank
from controller.service.wall_clock import wall_at
from controller.settings.values import Site
from sim.board import SimBoard
from sim.explain.truth_trace import NightTruth, ReadingWatch, TruthTrace, scales_seen
from sim.faults import FaultPlan
from sim.first_night import first_night, start_of
from sim.laws import Laws, Violation
from sim.outcome import NightOutcome, Truth, where_it_ran
from sim.rig import SimRig
from sim.told_doses import ToldDoses
from sim.world import World, load_world

OPERATOR = "operator"
SCHEDULE = "schedule"


@dataclass(frozen=True, slots=True)
class Progress:
    """How far the night has come; `left_s` is the time to the release."""

    now_s: float
    step_number: int
    steps: int
    kind: str
    title: str
    left_s: float
    level_l: float | None
    ph: float | None


Feed = Callable[[Progress], None]


class Night:
    """A night under way: plan laid, start ordered; `step` scans once and lets the rig run to the next scan.

    `traced`: note the physical truth on the way, for `seen`; `world` None: as the site's file says.

    Raises PlanRefused when tonight's plan breaks a rule, RecordFault when the record cannot be kept.
    """

    def __init__(
        self,
        site: Site,
        recipe: str | None,
        seed: int,
        state: Path,
        faults: FaultPlan | None = None,
        board: SimBoard | None = None,
        traced: bool = False,
        world: World | None = None,
    ) -> None:
        night = first_night(site)
        self.start = start_of(site, night)
        self._seed, self._world, self.faults = seed, world or load_world(site), faults or FaultPlan(())
        self.rig = SimRig(site, self._world, seed, self.faults, board)
        self.plan = plan_for_the_tank(site, recipe or night.recipe, self.rig.read())
        self.record_path = record_in(state)
        journal = Journal(self.record_path)
        opening = open_batch(site, self.plan, journal)
        self.batch = opening.batch
        doses = ToldDoses(InlineWriter(journal, self._wall_at))
        self.told = doses.by_input
        self._ledger = ReadingWatch(doses)
        self._trace = TruthTrace(self.rig.plant) if traced else None
        self._laws = Laws(self.rig, self.plan, self.told)
        self.scan = Scan(site, self.rig, self._ledger, lambda: self._wall_at(self.rig.now_s).date())
        opening.lay(self.scan)
        self.scan.order(Command.START, SCHEDULE)
        self._truth: Truth | None = None

    @property
    def violations(self) -> tuple[Violation, ...]:
        """Give the laws that were broken so far."""
        return tuple(self._laws.violations)

    @property
    def truth(self) -> Truth:
        """Give what was so at the release; before one, what is so now."""
        return self._truth or Truth(self.rig.now_s, self.rig.plant.volume_l, self.rig.plant.ph_true())

    @property
    def seen(self) -> NightTruth | None:
        """Give what was physically so up to now; None when the night is not traced."""
        if self._trace is None:
            return None
        self._trace.look(self.rig.now_s, self._ledger.take(), last=True)
        solids = self.rig.plant.dosing.solids_share_by_dose
        scales = scales_seen(self.rig.plant, self.rig.now_s)
        return NightTruth(self._seed, self._world, self._trace.samples, solids, scales)

    def step(self, longest_s: float = math.inf) -> Snapshot:
        """Scan once, check the laws, and let the rig run until the next scan is wanted."""
        next_s = self.scan.scan(self.rig.now_s)
        snapshot = self.scan.snapshot
        if snapshot is None:
            raise RuntimeError("a scan left no snapshot")
        self._laws.look(snapshot)
        if self._trace is not None:
            self._trace.look(snapshot.now_s, self._ledger.take())
        if snapshot.released and self._truth is None:
            self._truth = self.truth
        self.rig.advance(min(next_s, self.rig.now_s + longest_s))
        return snapshot

    @property
    def record_fault(self) -> str | None:
        """Say why the record could not be kept, or None."""
        return self._ledger.fault

    def close(self) -> None:
        """Write out and close the record."""
        self._ledger.close()

    def _wall_at(self, at_s: float) -> datetime:
        return wall_at(self.start, at_s)


def run_night(
    site: Site,
    recipe: str | None,
    seed: int,
    state: Path,
    on_progress: Feed | None = None,
    should_stop: Callable[[], bool] | None = None,
    faults: FaultPlan | None = None,
    board: SimBoard | None = None,
    traced: bool = False,
) -> NightOutcome:
    """Run one night from the preconditions to the end of the keeping, and keep its record in `state`.

    `recipe` None: the one that the schedule names first; `board` None: the firmware runs in this process;
    `traced`: the outcome says what was physically so over the night, which changes nothing in its record.
    Raises as `Night`.
    """
    began_s = time.perf_counter()
    night = Night(site, recipe, seed, state, faults, board, traced)
    try:
        _run(night, on_progress, should_stop)
    finally:
        night.close()
    record = _recorded(night)
    return NightOutcome(
        plan=night.plan,
        record=record,
        record_fault=night.record_fault,
        ended_as=night.scan.state,
        record_path=night.record_path,
        truth=night.truth,
        ml_by_dose=night.rig.pins.ml_by_dose,
        violations=night.violations,
        struck=night.faults.struck,
        never_struck=night.faults.waiting,
        floor_s=night.plan.floor_s + _trims_floor_s(site, record),
        simulated_s=night.rig.now_s,
        wall_s=time.perf_counter() - began_s,
        seen=night.seen,
        ran=where_it_ran(night.rig.plant.dosing),
    )


def _run(night: Night, on_progress: Feed | None, should_stop: Callable[[], bool] | None) -> None:
    """Step until the batch has ended; a wish to stop becomes an operator's stop command, once.

    Raises StartRefused when the rig is in no state to start.
    """
    stopping = False
    while True:
        snapshot = night.step()
        require_started(snapshot)
        if on_progress is not None:
            on_progress(_progress(snapshot))
        if snapshot.state in ENDS:
            return
        if not stopping and should_stop is not None and should_stop():
            stopping = True
            night.scan.order(Command.STOP, OPERATOR)


def _recorded(night: Night) -> BatchRecord:
    """Read the batch back; when nothing of it could be written, the writer's fault is the one to tell."""
    try:
        return read_batch(night.record_path, night.batch)
    except RecordFault as fault:
        if night.record_fault is None:
            raise
        why = f"nothing of this batch could be written ({night.record_fault})"
        raise RecordFault(night.record_path, why, "free space on the disk, then run again") from fault


def _trims_floor_s(site: Site, record: BatchRecord) -> float:
    """Give the shortest time that the trims of this batch could have taken."""
    recipe = site.recipes[record.started.event.recipe]
    rounds = (
        trim_round(
            site,
            dose.intent.event.input,
            dose.intent.event.target_ml,
            recipe.ph_low,
            recipe.ph_high,
            recipe.trim_acid,
            recipe.trim_base,
        )
        for dose in record.doses
        if dose.intent.event.purpose == Purpose.TRIM.value
    )
    return sum(floor_s(steps) for steps in rounds)


def _progress(now: Snapshot) -> Progress:
    kind = now.kind.value if now.kind is not None else now.state.value
    readings = now.readings
    return Progress(
        now.now_s, now.number, now.steps, kind, now.title, now.left_s, readings.level_l, readings.ph
    )
