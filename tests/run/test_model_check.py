"""The model check: every abstract state that the real scan can reach, and every step from it, keeps the laws.

What is held after each step is in `safety_monitor.py`; what the model leaves out, and why it may, in
`abstract_rig.py` and `abstract_scan.py`. Here one cause of each sort of row plays, and some together; every
cause and every pair of them play in `tests/bench/bench_model_check.py`. That the check bites is shown in
`test_model_check_bites.py`.
"""

from __future__ import annotations

import ast
from collections.abc import Callable
from dataclasses import fields
from pathlib import Path

import pytest
from abstract_rig import FLOAT, World
from abstract_scan import AbstractScan
from exploration import SHORT, WHOLE, Counted, explore
from safety_table import TOLD
from stand_ins import Action

import controller.run
from controller.plan.steps import StepKind
from controller.run import orders, procedure, scan, sequence
from controller.run.batch_run import BatchRun
from controller.run.interlock_table import TABLE
from controller.run.interlocks import Interlocks, _Timer
from controller.run.phases.phase import Memory
from controller.run.sequence import Command, RunState
from controller.run.situation import Cause
from controller.settings.values import Site

DOSING = (StepKind.DOSE,)
FEEDING = (StepKind.RELEASE, StepKind.KEEP)
SEEN_IN = {
    Cause.LEVEL_LOST: (StepKind.FILL, StepKind.DOSE),
}
REAL_REFUSAL = scan.refusal


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
        Cause.LEVEL_FALLS,
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
    kinds = SEEN_IN.get(cause, DOSING)
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
        # Writes into the memory what only a real dose phase reads, and branches nothing else.
        "_first_weights",
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
    assert scan.refusal is REAL_REFUSAL
