"""Bringing a real scan, on a fake rig, into each ISA-88 state and each kind of step."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from functools import cache

from fake_rig import BOOT_ID, FakeRig, MemoryLedger

from controller.measure.level import litres_at
from controller.plan.batch import plan_batch
from controller.plan.steps import (
    Agitate,
    AnyStep,
    Check,
    Condition,
    Deliver,
    Dose,
    Fill,
    Keep,
    Measure,
    Mix,
    Plan,
    Purpose,
    Rebound,
    Release,
    Rinse,
    Settle,
    StepKind,
    Trim,
)
from controller.plan.tonight import tonight_from
from controller.run.phases.phase import PlainPhase, Turn, View
from controller.run.request import Request
from controller.run.scan import Scan
from controller.run.sequence import Command, RunState
from controller.run.snapshot import Snapshot
from controller.settings.values import Site

LONG_S = 20_000.0


@dataclass(frozen=True)
class At:
    """A run state, and the kind of step under way in it."""

    state: RunState
    kind: StepKind | None = None

    def __str__(self) -> str:
        return self.kind.value if self.kind is not None else self.state.value


PASSING = (RunState.HOLDING, RunState.RESTARTING, RunState.STOPPING, RunState.ABORTING)
PLACES = (
    *(At(RunState.RUNNING, kind) for kind in StepKind),
    *(At(state) for state in RunState if state is not RunState.RUNNING),
)
# In these the real phase is over within a scan or a few seconds; a phase that asks for nothing stands in.
# In these a bottle is weighed at rest before anything turns.
PUMPED = (StepKind.DOSE, StepKind.RINSE)
PARKED = (StepKind.CHECK, StepKind.TRIM, StepKind.RELEASE)


BY = {RunState.HELD: Command.HOLD, RunState.STOPPED: Command.STOP, RunState.ABORTED: Command.ABORT}


class Parked(PlainPhase):
    def __init__(self, request: Request = Request()) -> None:  # noqa: B008
        self._request = request

    def scan(self, view: View) -> Turn:
        return Turn(self._request, wake_s=view.now_s + 1.0)


def step_of(kind: StepKind, site: Site, level_l: float) -> AnyStep:
    """A step that lasts as long as a test wants to look at it."""
    base = {"title": kind.value, "expected_s": LONG_S, "kind": kind}
    trim = {"ph_low": 6.0, "ph_high": 7.0}
    kelp, rinse = site.inputs["kelp_extract"], site.rig.pumps[site.rig.manifold.rinse_pump]
    gypsum = "gypsum_suspension"
    made: dict[StepKind, AnyStep] = {
        StepKind.CHECK: Check(**base),
        StepKind.FILL: Fill(**base, from_l=level_l, to_l=level_l + 50, top_up=False),
        StepKind.CONDITION: Condition(
            **base,
            rest_s=LONG_S,
            air=True,
            temperature_low_c=5,
            temperature_high_c=30,
            temperature_wait_s=60,
        ),
        StepKind.AGITATE: Agitate(**base, input=gypsum, agitator=site.rig.agitators[0], agitate_s=LONG_S),
        StepKind.DOSE: Dose(
            **base,
            input=kelp.name,
            pump=kelp.pump,
            agitator=None,
            target_ml=500,
            rate_ml_min=60,
            purpose=Purpose.ADDITION,
        ),
        StepKind.RINSE: Rinse(
            **base, after_input=kelp.name, pump=rinse.name, times=2, each_ml=500, rate_ml_min=60
        ),
        StepKind.MIX: Mix(**base, mix_s=LONG_S, air=True, next_input=None, next_agitator=None, agitate_s=0.0),
        StepKind.SETTLE: Settle(**base, settle_s=LONG_S),
        StepKind.MEASURE: Measure(**base, stable_s=LONG_S, stable_ph=0.05, give_up_s=2 * LONG_S),
        StepKind.TRIM: Trim(**base, **trim, acid=None, base=None),
        StepKind.REBOUND: Rebound(**base, wait_s=LONG_S, air=True),
        StepKind.RELEASE: Release(**base, **trim),
        StepKind.KEEP: Keep(**base, max_age_s=LONG_S, stir_every_s=40.0, stir_s=1000.0),
        StepKind.DELIVER: Deliver(
            **base,
            input="water",
            pump=kelp.pump,
            agitator=None,
            agitate_s=0.0,
            target_ml=500,
            rate_ml_min=60,
            purpose=Purpose.CALIBRATION,
        ),
    }
    return made[kind]


@cache
def _plan(folder: str) -> Plan:
    from pathlib import Path

    from controller.settings.load import load_site

    site = load_site(Path(folder))
    return plan_batch(site, "fruiting", tonight_from(site))


@dataclass
class Bench:
    """One real scan on one fake rig."""

    site: Site
    rig: FakeRig = field(init=False)
    ledger: MemoryLedger = field(default_factory=MemoryLedger)
    scan: Scan = field(init=False)
    today: date | None = None

    def __post_init__(self) -> None:
        pumps = self.site.rig.pumps
        density = {pumps[of.pump].channel: of.density_kg_l for of in self.site.inputs.values()}
        self.rig = FakeRig(self.site.rig, density_kg_l=density)
        policy = self.site.policy
        self.today = max(self.site.rig.probe.calibrated, policy.proof_tests.done) + timedelta(days=1)
        self.scan = Scan(self.site, self.rig, self.ledger, lambda: self.today)

    def look(self, after_s: float = 0.05) -> Snapshot:
        self.rig.now_s += after_s
        self.scan.scan(self.rig.now_s)
        assert self.scan.snapshot is not None
        return self.scan.snapshot

    def dwell(self, seconds: float, every_s: float = 1.0) -> Snapshot:
        for _ in range(math.ceil(seconds / every_s)):
            snapshot = self.look(every_s)
        return snapshot

    def order(self, command: Command) -> Snapshot:
        self.scan.order(command, "tester")
        return self.look()

    def load(self, *steps: AnyStep) -> None:
        plan = replace(_plan(str(self.site.folder)), steps=steps, ph_low=6.0, ph_high=7.0)
        self.scan.load(plan, "{}", batch=1, first_dose_id=1)
        assert self.scan.memory is not None
        self.scan.memory.boot_id = BOOT_ID

    def run(self, kind: StepKind) -> None:
        """Start a batch whose first step is of this kind, and let it get under way."""
        assert self.rig.board.level_mm is not None
        self.load(step_of(kind, self.site, litres_at(self.rig.board.level_mm, self.site.rig.tank)))
        memory = self.scan.memory
        assert memory is not None
        memory.released = kind is StepKind.KEEP
        self.order(Command.START)
        if kind in PARKED:
            self.park(Request())
        self.dwell(8.0 if kind in PUMPED else 1.0, 0.25)

    def park(self, request: Request) -> None:
        run = self.scan._procedure.run
        assert run is not None
        run.phase = Parked(request)

    def enter(self, at: At, kind: StepKind = StepKind.MIX) -> None:
        """Come to a state that stays; `kind` is the step under way in those that have one."""
        if at.state is RunState.IDLE:
            self.look()
        elif at.state is RunState.RUNNING:
            self.run(at.kind or kind)
        elif at.state is RunState.COMPLETE:
            self.load(replace(step_of(StepKind.SETTLE, self.site, 0.0), settle_s=0.0))  # type: ignore[call-arg]
            self.order(Command.START)
            self.dwell(1.0, 0.25)
        else:
            self.run(kind)
            self.order(BY[at.state])
            self.look()
        assert self.scan.state is at.state
