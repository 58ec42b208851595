"""What must hold after every scan, judged apart from the program: a monitor with its own table and latches.

It knows what is so at the rig, what was ordered and acknowledged, and what was driven; it never reads the
interlock table. What must be so is written down in `safety_table.py`.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace

from abstract_rig import POSITIONS, World
from abstract_scan import AbstractScan
from safety_table import (
    AFTER,
    AT_MOST_S,
    BEGINS,
    BY_BOARD,
    LONGEST_HOLD_S,
    MAY_BECOME,
    OFF,
    STIRS,
    TOLD,
    UNFED,
    S,
)
from stand_ins import Action
from test_guard import ASKING
from test_interlocks import MUST
from test_matrix_cells import asked

from controller.plan.steps import StepKind
from controller.record.events import AnyEvent, OperatorAct
from controller.run import scan as scan_module
from controller.run.image import Selector
from controller.run.interlock_row import Output, Response
from controller.run.request import Request
from controller.run.sequence import RunState
from controller.run.situation import Cause


class LawBroken(AssertionError):
    """A step that must not be; `str()` says which and why."""


def require(holds: bool, what: str) -> None:
    if not holds:
        raise LawBroken(what)


@dataclass(frozen=True, slots=True)
class Latch:
    """One cause: since when its condition is there, whether it has tripped, whether a person heard it."""

    since_s: float | None
    tripped: bool
    heard: bool


@dataclass(frozen=True, slots=True)
class Facts:
    """What was so before a scan."""

    state: RunState
    kind: StepKind | None
    driven: Request
    boot_is_new: bool
    waiting: bool

    @staticmethod
    def of(machine: AbstractScan) -> Facts:
        scan = machine.scan
        return Facts(
            scan.state,
            scan._sequence.kind,
            machine.watch.driven,
            machine.boot_is_new,
            machine.waiting,
        )


@dataclass(frozen=True, slots=True)
class Monitor:
    """What the monitor remembers from scan to scan. `stale` : an order waits that was given under a trip."""

    latches: tuple[tuple[Cause, Latch], ...] = ()
    released: bool = False
    told: frozenset[Cause] = frozenset()
    stale: bool = False
    held_s: float | None = None
    acknowledged_next: bool = False
    button: bool = False

    @property
    def due_s(self) -> float | None:
        """Say when the next delay ends."""
        waiting = [
            latch.since_s + AT_MOST_S.get(cause, 0.0)
            for cause, latch in self.latches
            if not latch.tripped and latch.since_s is not None
        ]
        return min(waiting, default=None)

    @property
    def name(self) -> object:
        """Name what it remembers, times left out."""
        latches = frozenset((c, a.since_s is None, a.tripped, a.heard) for c, a in self.latches)
        return latches, self.released, self.told, self.stale

    @property
    def tripped(self) -> frozenset[Cause]:
        """Give every cause that stands."""
        return frozenset(cause for cause, latch in self.latches if latch.tripped)

    def after(self, before: Facts, action: Action, machine: AbstractScan, events: list[AnyEvent]) -> Monitor:
        """Judge one scan; give what to remember, or raise LawBroken."""
        heard = any(isinstance(e, OperatorAct) and e.act == "acknowledge" for e in events)
        require(not heard or action.acknowledge or self.acknowledged_next, "acknowledged, but by nobody")
        there = self._there(before, action.world, heard, machine.now_s)
        now = replace(self, latches=_latched(dict(self.latches), there, heard, machine.now_s))
        stopping = {cause for cause in now.tripped if MUST[cause][0] is not Response.NONE}
        state, outputs = machine.scan.state, machine.port.written[-1]
        fresh = self._is_fresh(before, action)
        _judge_change(before, state, stopping, fresh, events)
        released = self._is_released(state, action, before)
        _judge_outputs(state, action.world, asked(outputs), now.tripped, released)
        _judge_guard(machine, now.tripped, machine.guarded)
        require(machine.scan.snapshot is not None and machine.scan.snapshot.released == released, "release")
        return replace(
            now,
            released=released,
            told=_told(before, state, action, machine, outputs),
            stale=machine.waiting and bool(stopping),
            held_s=(self.held_s if self.held_s is not None else machine.now_s) if state is S.HELD else None,
            acknowledged_next=bool(machine.scan._orders._acknowledgements),
            button=action.world.button,
        )

    def _is_released(self, state: RunState, action: Action, before: Facts) -> bool:
        if state not in (S.RUNNING, S.HOLDING, S.HELD, S.RESTARTING) or action.lay:
            return False
        ran = before.state is S.RUNNING and state is S.RUNNING
        return self.released or (action.release and ran)

    def _is_fresh(self, before: Facts, action: Action) -> frozenset[str]:
        """Give the orders that may count: given at this scan, or waiting from one without a trip."""
        pressed = action.world.button and not self.button
        if pressed or (before.waiting and not self.stale):
            return frozenset(BEGINS.values())
        return frozenset(command.value for command in action.orders)

    def _there(self, before: Facts, world: World, heard: bool, now_s: float) -> frozenset[Cause]:
        """Say which conditions are there for this scan to see."""
        answers = Cause.BOARD_SILENT not in world.on
        there = {cause for cause in world.on - TOLD if answers or cause not in BY_BOARD}
        there |= {cause for cause, position in POSITIONS.items() if world.selector is position}
        there |= self.told
        driven = before.driven
        if Cause.LOW_FLOAT in there and before.kind in STIRS:
            there = there - {Cause.LOW_FLOAT} | {Cause.RUN_DRY}
        if not (driven.stir or driven.permit or driven.dose or driven.fill):
            there.discard(Cause.ENABLE_LOST)
        if before.kind is not StepKind.FILL and driven.dose is None:
            there.discard(Cause.LEVEL_LOST)
        if before.kind not in UNFED:
            there.discard(Cause.LEVEL_FALLS)
        if not answers:
            there.discard(Cause.HIGH_FLOAT)
        if world.second_float:
            there.add(Cause.HIGH_FLOAT)
        if before.boot_is_new and answers and not (heard and Cause.BOARD_RESTARTED in self.tripped):
            there.add(Cause.BOARD_RESTARTED)
        if self.held_s is not None and now_s - self.held_s > LONGEST_HOLD_S:
            there.add(Cause.HELD_LONG)
        return frozenset(there)


def _latched(
    latches: dict[Cause, Latch], there: Collection[Cause], heard: bool, now_s: float
) -> tuple[tuple[Cause, Latch], ...]:
    for cause in {*latches, *there}:
        was = latches.get(cause, Latch(None, False, False))
        since_s = (was.since_s if was.since_s is not None else now_s) if cause in there else None
        is_heard = was.tripped and (was.heard or heard)
        over = since_s is None and (is_heard or not MUST[cause][1])
        due = since_s is not None and now_s >= since_s + AT_MOST_S.get(cause, 0.0)
        latches[cause] = Latch(since_s, (was.tripped and not over) or due, is_heard)
    return tuple((cause, now) for cause, now in latches.items() if now.tripped or now.since_s is not None)


def _judge_change(
    before: Facts, state: RunState, stopping: set[Cause], fresh: frozenset[str], events: list[AnyEvent]
) -> None:
    change = f"{before.state.value} became {state.value} under {sorted(c.value for c in stopping)}"
    require(state in MAY_BECOME[before.state], f"{change}: no such change")
    for cause in sorted(stopping, key=lambda cause: cause.value):
        require(state in AFTER[MUST[cause][0]], f"{change}: {cause.value} asks for more")
    word = BEGINS.get((before.state, state))
    if word is None:
        return
    require(not stopping, f"{change}: begun under a cause")
    taken = [e for e in events if isinstance(e, OperatorAct) and (e.act, e.answer) == (word, "taken")]
    require(len(taken) == 1, f"{change}: nobody asked for it")
    require(word in fresh, f"{change}: the order was not fresh")


def _judge_outputs(
    state: RunState, world: World, on: set[Output], tripped: Collection[Cause], released: bool
) -> None:
    for cause in sorted(tripped, key=lambda cause: cause.value):
        require(not on & OFF[cause], f"{cause.value} stands and {sorted(o.value for o in on)} are on")
    by_hand = {Output.STIR} if world.selector is Selector.HAND else set()
    require(state is S.RUNNING or on <= by_hand, f"something is on while {state.value}")
    require(Output.PERMIT not in on or released, "the permit is given to a tank that was not released")
    into = on & {Output.FILL, Output.DOSE}
    require(len(into) < 2, "a dose with the fill valve open")
    require(Output.DOSE not in on or Output.STIR in on, "a dose into a still tank")
    require(not into or not on & {Output.DRAIN, Output.PERMIT}, "let out while something runs in")


def _judge_guard(
    machine: AbstractScan, tripped: frozenset[Cause], proven: set[tuple[frozenset[Cause], frozenset[Output]]]
) -> None:
    """Whatever a phase asked for in this state, the guard alone would stop it. Each answer is proven once."""
    blocked = machine.interlocks.last.blocked
    if (tripped, blocked) in proven:
        return
    off = frozenset[Output]().union(*(OFF[cause] for cause in tripped))
    for output in (output for output in Output if output in off):
        stopped = scan_module.refusal(ASKING[output], blocked, True) is not None
        require(stopped, f"the guard lets {output.value} pass under {sorted(c.value for c in tripped)}")
    proven.add((tripped, blocked))


def _told(
    before: Facts, state: RunState, action: Action, machine: AbstractScan, outputs: Request
) -> frozenset[Cause]:
    """Say what the next scan must see of this one: a phase's trouble, a wish that was refused."""
    told = set()
    if before.state is S.RUNNING and state is S.RUNNING and action.tell is not None:
        told.add(action.tell)
    if before.state is S.RUNNING and state is S.HOLDING and machine.phase.doubt:
        told.add(Cause.DOSE_UNPROVEN)
    if machine.scan._guard_refused is not None:
        require(outputs == Request(), "a refused wish was driven in part")
        told.add(Cause.GUARD_REFUSED)
    return frozenset(told)
