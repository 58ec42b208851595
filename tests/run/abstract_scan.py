"""The real scan in the model check: one step from any state that was reached before.

Real are `Scan`, `Procedure`, `BatchRun`, `Sequence`, `Interlocks` with its table, `Orders` and the guard.
Three parts are replaced by ones that may do more than the real ones can, so that what holds here holds for
them too: the phase asks for, tells and ends whatever it is told to; the watch sees whatever the world says;
the alarms may have been heard by people or not. (What real alarms decide is only whether a press of the
wall button acknowledges or restarts.) Left out of a state's name: times, but for the order in which delays
end; texts; ids and counts; readings. None of these parts branches on them but through a trip point.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Hashable
from copy import copy
from dataclasses import dataclass, replace

from abstract_rig import AnyPort, AnyWatch
from fake_rig import MemoryLedger
from run_states import Bench, step_of
from stand_ins import Action, AnyAlarms, AnyPhase, HeardInterlocks

from controller.plan.steps import AnyStep, Plan, StepKind
from controller.record.events import AnyEvent
from controller.run.batch_run import BatchRun
from controller.run.interlock_row import Interlock, Output
from controller.run.request import Request
from controller.run.scan import Scan
from controller.run.situation import Cause, Trouble
from controller.settings.values import Site


@dataclass(slots=True)
class Saved:
    """Everything that the scan remembers, copied."""

    now_s: float
    state: str
    run: BatchRun | None
    held_from_s: float | None
    timers: dict[Cause, object]
    first_out: Cause | None
    waiting: tuple[object, ...]
    acknowledgements: tuple[str, ...]
    button: bool
    trouble: Trouble | None
    refused: str | None
    driven: Request


def copied(run: BatchRun | None) -> BatchRun | None:
    """Copy a batch under way; the model never puts anything into the memory's own lists."""
    if run is None:
        return None
    twin = copy(run)
    twin.memory, twin.steps = copy(run.memory), deque(run.steps)
    return twin


class AbstractScan:
    """Step the real scan, save and restore it, and name its state."""

    def __init__(self, site: Site, kinds: tuple[StepKind, ...], table: tuple[Interlock, ...]) -> None:
        self.port, self.ledger, self.phase = AnyPort(), MemoryLedger(), AnyPhase()
        self.scan = Scan(site, self.port, self.ledger, lambda: None)
        self.interlocks = self.scan._interlocks = HeardInterlocks(site.rig, table)
        self.alarms = self.scan._alarms = AnyAlarms()
        self.watch = self.scan._watch = AnyWatch()
        steps = [replace(step_of(kind, site, 113.0), expected_s=1e12) for kind in kinds]
        self._plan = plan_of(site, *steps)
        self._delay_s = {row.cause: row.delay_s for row in table}
        self.now_s = 0.0
        self.guarded: set[tuple[frozenset[Cause], frozenset[Output]]] = set()

    @property
    def run(self) -> BatchRun | None:
        return self.scan._procedure.run

    @property
    def kind(self) -> StepKind | None:
        """The step of the batch, also while it is held."""
        return self.run.step.kind if self.run and self.run.step else None

    @property
    def boot_is_new(self) -> bool:
        memory = self.scan.memory
        return memory is not None and memory.boot_id != 77 + self.port.world.boots

    @property
    def waiting(self) -> bool:
        return bool(self.scan._orders._waiting)

    def step(self, action: Action) -> list[AnyEvent]:
        """Let one thing happen and scan once; give what went on record."""
        self.ledger.events.clear()
        self.port.written.clear()
        self.port.world = self.watch.world = action.world
        self.ledger.fault = "disk full" if Cause.RECORD_FAULT in action.world.on else None
        self.alarms.heard = action.heard
        self.phase.action, self.phase.kind = action, self.kind or StepKind.CHECK
        self.phase.doubt = self.boot_is_new and self.kind in (StepKind.DOSE, StepKind.RINSE)
        if action.lay:
            self.scan.load(self._plan, "{}", batch=1, first_dose_id=1)
            assert self.scan.memory is not None
            self.scan.memory.boot_id = 77 + action.world.boots
        for command in action.orders:
            self.scan.order(command, "person")
        if action.acknowledge:
            self.scan.acknowledge("person")
        self.now_s += action.after_s
        self.scan.scan(self.now_s)
        if self.run is not None and self.run.step is not None:
            self.run.phase = self.phase
        return [event for _, event in self.ledger.events]

    def save(self) -> Saved:
        scan, orders, procedure = self.scan, self.scan._orders, self.scan._procedure
        return Saved(
            self.now_s,
            scan._sequence.state,
            copied(procedure.run),
            procedure.held_from_s,
            {cause: copy(timer) for cause, timer in self.interlocks._timers.items()},
            self.interlocks.first_out,
            tuple(orders._waiting),
            tuple(orders._acknowledgements),
            orders._button,
            scan._trouble,
            scan._guard_refused,
            self.watch.driven,
        )

    def restore(self, saved: Saved) -> None:
        scan, orders, procedure = self.scan, self.scan._orders, self.scan._procedure
        self.now_s = procedure._scanned_s = saved.now_s
        scan._sequence.state = saved.state
        procedure.run, procedure.held_from_s = copied(saved.run), saved.held_from_s
        procedure.reason = ""
        self.interlocks._timers = {cause: copy(timer) for cause, timer in saved.timers.items()}  # type: ignore[misc]
        self.interlocks.first_out, self.interlocks._acknowledge = saved.first_out, False
        orders._waiting = deque(saved.waiting)  # type: ignore[arg-type]
        orders._acknowledgements = deque(saved.acknowledgements)
        orders._button = saved.button
        scan._trouble, scan._guard_refused = saved.trouble, saved.refused
        self.watch.driven = saved.driven

    def name(self) -> Hashable:
        """Name the abstract state: everything that a later decision can depend on."""
        scan, orders, driven, run = self.scan, self.scan._orders, self.watch.driven, self.run
        timers = self.interlocks._timers
        pending = sorted(
            (timer.since_s + self._delay_s[cause], cause.value)
            for cause, timer in timers.items()
            if not timer.active and timer.since_s is not None
        )
        tied = len({due_s for due_s, _ in pending})
        on = driven.stir or driven.permit or driven.dose is not None or driven.fill is not None
        batch = None if run is None else (run.number, run.memory.released, run.ended_as)
        return (
            scan._sequence.state,
            batch,
            replace(self.port.world, boots=0),
            self.boot_is_new,
            (tied, *(cause for _, cause in pending)),
            frozenset((c, t.acknowledged, t.since_s is None) for c, t in timers.items() if t.active),
            None if scan._trouble is None else scan._trouble.cause,
            scan._guard_refused is not None,
            tuple(order.command for order in orders._waiting),
            bool(orders._acknowledgements),
            orders._button,
            on,
            driven.dose is not None,
        )


def plan_of(site: Site, *steps: AnyStep) -> Plan:
    """Give a plan of these steps only."""
    bench = Bench(site)
    bench.load(*steps)
    assert bench.scan.memory is not None
    return bench.scan.memory.plan
