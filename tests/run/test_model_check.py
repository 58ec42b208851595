"""The model check: every abstract state that the real scan can reach, and every step from it, keeps the laws.

What is held after each step is in `safety_monitor.py`; what the model leaves out, and why it may, in
`abstract_rig.py` and `abstract_scan.py`. Here one cause of each sort of row plays, and some together; every
cause and every pair of them play in `tests/bench/bench_model_check.py`. Each mutant must be caught.
"""

from __future__ import annotations

import ast
from collections.abc import Callable
from dataclasses import dataclass, fields, replace
from pathlib import Path

import pytest
from abstract_rig import FLOAT, World
from abstract_scan import AbstractScan, Action
from exploration import SHORT, WHOLE, Counted, explore
from pytest_mock import MockerFixture
from safety_monitor import TOLD, LawBroken

import controller.run
from controller.plan.steps import StepKind
from controller.run import orders, procedure, scan, sequence
from controller.run.batch_run import BatchRun
from controller.run.interlock_row import Clear, Interlock, Output, Response
from controller.run.interlock_table import ROW_OF, TABLE
from controller.run.interlocks import Interlocks, _Timer
from controller.run.orders import Order, Orders
from controller.run.phases.phase import Memory, Turn
from controller.run.procedure import Procedure, Seen
from controller.run.sequence import TRANSITIONS, Command, RunState
from controller.run.situation import Cause
from controller.settings.values import Site

DOSING = (StepKind.DOSE,)
FEEDING = (StepKind.RELEASE, StepKind.KEEP)


def one_of_each_sort() -> list[Cause]:
    """Causes whose rows act alike, and are seen alike, need one to stand for them."""
    sorts: dict[object, Cause] = {}
    for row in TABLE:
        seen_alike = "told" if row.cause in TOLD else "seen"
        sorts.setdefault((seen_alike, row.response, row.blocks, row.clear, row.delay_s), row.cause)
    own = {
        Cause.BOARD_RESTARTED,
        Cause.ENABLE_LOST,
        Cause.GUARD_REFUSED,
        Cause.HELD_LONG,
        Cause.LEVEL_LOST,
        Cause.LOW_FLOAT,
    }
    return sorted(({*sorts.values(), *own}) - {Cause.RUN_DRY}, key=lambda cause: cause.value)


def told(counted: Counted) -> str:
    return f"{counted.states} states, {counted.transitions} transitions"


def test_with_nothing_wrong_every_step_of_a_batch_keeps_the_laws(
    demo_site: Site, record_property: Callable[[str, object], None]
) -> None:
    counted = explore(demo_site, kinds=WHOLE)
    record_property("model check", told(counted))
    print(told(counted))
    assert counted.run_states == frozenset(RunState)
    assert counted.states > 300
    assert counted.transitions > 4000


@pytest.mark.parametrize("cause", one_of_each_sort(), ids=lambda cause: cause.name)
def test_no_reachable_state_drives_anything_against_a_cause(demo_site: Site, cause: Cause) -> None:
    kinds = (StepKind.FILL, StepKind.DOSE) if cause is Cause.LEVEL_LOST else DOSING
    counted = explore(demo_site, cause, kinds=kinds)
    print(f"{cause.value}: {told(counted)}")
    assert counted.tripped & (FLOAT if cause in FLOAT else {cause}), "it never tripped"
    assert counted.run_states == frozenset(RunState)
    assert counted.transitions > 700


@pytest.mark.parametrize(
    ("causes", "kinds"),
    [
        ((Cause.HIGH_FLOAT,), FEEDING),
        ((Cause.ESTOP, Cause.SELECTOR_OFF), DOSING),
        ((Cause.BOARD_SILENT, Cause.BOARD_RESTARTED), DOSING),
    ],
    ids=["fed while the float rises", "emergency stop and selector", "silent, then restarted"],
)
def test_causes_that_come_together_keep_the_laws(
    demo_site: Site, causes: tuple[Cause, ...], kinds: tuple[StepKind, ...]
) -> None:
    counted = explore(demo_site, *causes, kinds=kinds)
    print(f"{' and '.join(cause.value for cause in causes)}: {told(counted)}")
    assert set(causes) <= counted.tripped
    assert counted.transitions > 5000


@dataclass(frozen=True)
class Mutant:
    """One change for the worse, and the smallest company in which it must show."""

    name: str
    make: Callable[[MockerFixture], tuple[Interlock, ...]]
    says: str
    causes: tuple[Cause, ...] = ()
    kinds: tuple[StepKind, ...] = SHORT


def row_changed(cause: Cause, **changes: object) -> Callable[[MockerFixture], tuple[Interlock, ...]]:
    changed = replace(ROW_OF[cause], **changes)  # type: ignore[arg-type]
    return lambda mocker: tuple(changed if row.cause is cause else row for row in TABLE)


def patched(where: object, name: str, value: object) -> Callable[[MockerFixture], tuple[Interlock, ...]]:
    def make(mocker: MockerFixture) -> tuple[Interlock, ...]:
        mocker.patch.object(where, name, value)
        return TABLE

    return make


def held_runs_on(mocker: MockerFixture) -> tuple[Interlock, ...]:
    by_itself = (Command.DONE, (RunState.HELD,), RunState.RUNNING)
    mocker.patch.object(sequence, "TRANSITIONS", (*TRANSITIONS, by_itself))
    mocker.patch.object(scan, "_PASSING", scan._PASSING | {RunState.HELD})
    return TABLE


def no_way_out(mocker: MockerFixture) -> tuple[Interlock, ...]:
    rows = tuple(
        (command, tuple(s for s in sources if s is not RunState.ABORTED), target)
        for command, sources, target in TRANSITIONS
    )
    mocker.patch.object(sequence, "TRANSITIONS", rows)
    return TABLE


real_refusal = scan.refusal
real_listen = Orders._listen_to_button
real_next = Orders.next


def listens_to_a_stuck_button(self: Orders, *facts: object) -> None:
    self._button = False
    real_listen(self, *facts)  # type: ignore[arg-type]
    self._button = False


def tries_again(self: Orders, panel: object, verdict: object, unheard: object) -> Order | None:
    kept = [order for order in self._waiting if order.command is Command.RESTART]
    given = real_next(self, panel, verdict, unheard)  # type: ignore[arg-type]
    if given is None:
        self._waiting.extend(kept[:1])
    return given


def takes_everything(self: Orders, command: Command, verdict: object) -> str | None:
    return None if self._sequence.allows(command) else "unknown here"


def asks_always(self: scan.Scan, verdict: object, seen: Seen) -> Turn:
    idle = Turn(wake_s=seen.now_s + 1.0)
    return self._procedure.ask(seen) if self._procedure.run and self._procedure.run.phase else idle


ANSWERS = {Response.STOP: Command.STOP, Response.ABORT: Command.ABORT}
MUTANTS = [
    Mutant(
        "a row forgets to block dosing",
        row_changed(Cause.RECORD_FAULT, blocks=frozenset({Output.FILL})),
        "the guard lets dosing pumps pass",
        (Cause.RECORD_FAULT,),
    ),
    Mutant(
        "the low float forgets the stir pump",
        row_changed(Cause.LOW_FLOAT, blocks=frozenset({Output.DOSE})),
        "the guard lets stir pump pass",
        (Cause.LOW_FLOAT,),
    ),
    Mutant(
        "a row only warns",
        row_changed(Cause.SELECTOR_OFF, response=Response.NONE),
        "asks for more",
        (Cause.SELECTOR_OFF,),
    ),
    Mutant(
        "a row waits too long",
        row_changed(Cause.BOARD_SILENT, delay_s=3.0),
        "the guard lets .* pass under ..board silent",
        (Cause.BOARD_SILENT,),
        DOSING,
    ),
    Mutant(
        "a latch lets go by itself",
        row_changed(Cause.BOARD_TRIPPED, clear=Clear.BY_ITSELF),
        "the guard lets .* pass under ..board tripped",
        (Cause.BOARD_TRIPPED,),
        DOSING,
    ),
    Mutant(
        "the guard passes a permit to a tank that was not released",
        patched(scan, "refusal", lambda request, blocked, released: real_refusal(request, blocked, True)),
        "not released",
    ),
    Mutant("the guard passes everything", patched(scan, "refusal", lambda *facts: None), "not released"),
    Mutant(
        "the guard looks at no interlock",
        patched(
            scan, "refusal", lambda request, blocked, released: real_refusal(request, frozenset(), released)
        ),
        "the guard lets",
        (Cause.ESTOP,),
    ),
    Mutant(
        "no hold is answered",
        patched(scan, "_ANSWER", ANSWERS),
        "asks for more",
        (Cause.SELECTOR_HAND,),
        DOSING,
    ),
    Mutant(
        "orders are taken while a cause stands",
        patched(Orders, "_why_not", takes_everything),
        "asks for more",
        (Cause.SELECTOR_OFF,),
        DOSING,
    ),
    Mutant(
        "a refused order is tried again",
        patched(Orders, "next", tries_again),
        "the order was not fresh",
        (Cause.SELECTOR_OFF,),
        DOSING,
    ),
    Mutant(
        "a button that is stuck closed is pressed again and again",
        patched(Orders, "_listen_to_button", listens_to_a_stuck_button),
        "the order was not fresh",
        (),
        DOSING,
    ),
    Mutant(
        "the step is asked while the batch is held",
        patched(scan.Scan, "_ask", asks_always),
        "something is on while held",
        (),
        DOSING,
    ),
    Mutant("held goes on by itself", held_runs_on, "no such change", (), DOSING),
    Mutant("an aborted batch cannot be reset", no_way_out, "nobody can come to rest", (), DOSING),
    Mutant(
        "the release outlives the batch",
        patched(Procedure, "_break_off", lambda *facts: None),
        "release",
        (),
        FEEDING,
    ),
    Mutant(
        "no acknowledgement is taken",
        patched(Interlocks, "acknowledge", lambda self: None),
        "nobody can come to rest",
        (Cause.LEAK,),
        DOSING,
    ),
]


@pytest.mark.parametrize("mutant", MUTANTS, ids=lambda mutant: mutant.name)
def test_the_model_check_catches(demo_site: Site, mocker: MockerFixture, mutant: Mutant) -> None:
    table = mutant.make(mocker)
    with pytest.raises(LawBroken, match=mutant.says) as caught:
        explore(demo_site, *mutant.causes, kinds=mutant.kinds, table=table)
    assert "the way: begin" in str(caught.value)
    mocker.stopall()


SAVED_OF_SCAN = {"_trouble", "_guard_refused"}
FIXED_IN_SCAN = {"_site", "_port", "_recorder", "_sequence", "_procedure", "_orders", "_interlocks"}
# Replaced by ones that may do more; a broken scan ends the exploration; nothing in a scan reads the snapshot.
OUT_OF_SCAN = {"_alarms", "_watch", "_broken", "snapshot"}


def test_the_model_knows_everything_that_a_scan_remembers(demo_site: Site) -> None:
    """A new field must be saved, restored and named in `abstract_scan.py` before this may list it."""
    machine = AbstractScan(demo_site, SHORT, TABLE)
    real = machine.scan
    assert set(vars(real)) == SAVED_OF_SCAN | FIXED_IN_SCAN | OUT_OF_SCAN
    assert set(vars(real._procedure)) == {
        *("_site", "_sequence", "_recorder", "_today", "_plan_json"),
        *("_scanned_s", "run", "reason", "held_from_s"),
    }
    assert set(vars(real._orders)) == {
        *("_sequence", "_recorder", "_ready"),
        *("_waiting", "_acknowledgements", "_shelves", "_button"),
    }
    assert {field.name for field in fields(Interlocks)} == {
        *("rig", "table", "_quiet"),
        *("first_out", "_timers", "_acknowledge"),
    }
    assert {field.name for field in fields(_Timer)} == {"since_s", "active", "acknowledged"}
    assert {field.name for field in fields(BatchRun)} == {
        *("site", "memory", "steps", "number", "step", "phase", "ended_as", "elapsed_s", "resumed_at_s")
    }
    assert {"released", "released_at_s", "boot_id"} <= {field.name for field in fields(Memory)}


def test_a_restored_scan_does_again_exactly_what_it_did(demo_site: Site) -> None:
    machine = AbstractScan(demo_site, SHORT, TABLE)
    world = World()
    for action in (
        Action("begin", world),
        Action("plan laid", world, lay=True),
        Action("start", world, orders=(Command.START,)),
        Action("step done", world, done=True),
    ):
        machine.step(action)
    saved, went = machine.save(), []
    for _ in range(2):
        machine.restore(saved)
        names = []
        for action in (
            Action("hold", world, orders=(Command.HOLD,)),
            Action("silent", world.switched(Cause.BOARD_SILENT)),
            Action("wait", world.switched(Cause.BOARD_SILENT), after_s=2.0),
            Action("stop", world, orders=(Command.STOP,)),
        ):
            events = machine.step(action)
            names.append((machine.name(), events, list(machine.port.written)))
        went.append(names)
    assert went[0] == went[1]


def test_only_the_release_step_says_that_a_tank_is_released() -> None:
    """The model lets no other step say so."""
    room = Path(controller.run.__file__).parent
    says = {
        (path.name, ast.unparse(node.value))
        for path in room.rglob("*.py")
        for node in ast.walk(ast.parse(path.read_text()))
        if isinstance(node, ast.Assign)
        and any(isinstance(target, ast.Attribute) and target.attr == "released" for target in node.targets)
    }
    assert says == {("release.py", "True"), ("procedure.py", "False")}


def test_the_parts_that_the_model_steps_are_the_real_ones(demo_site: Site) -> None:
    machine = AbstractScan(demo_site, SHORT, TABLE)
    assert type(machine.scan) is scan.Scan
    assert type(machine.scan._procedure) is procedure.Procedure
    assert type(machine.scan._orders) is orders.Orders
    assert type(machine.scan._sequence) is sequence.Sequence
    assert scan.refusal is real_refusal
