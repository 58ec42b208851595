"""Nothing restarts by itself; what was held goes on where it was, and no dose is repeated."""

from __future__ import annotations

import pytest
from night_script import NightMaker, counts, everything_off, for_seconds, until, until_state, until_step

from controller.plan.steps import StepKind
from controller.record.batch_record import read_batch
from controller.run.image import Selector
from controller.run.sequence import Command, RunState
from controller.run.situation import Cause

RUNNING_KINDS = [
    StepKind.FILL,
    StepKind.AGITATE,
    StepKind.DOSE,
    StepKind.RINSE,
    StepKind.MIX,
    StepKind.SETTLE,
    StepKind.MEASURE,
    StepKind.REBOUND,
    StepKind.KEEP,
]


@pytest.mark.parametrize("kind", RUNNING_KINDS)
def test_a_hold_in_any_step_switches_everything_off_until_a_person_restarts(
    night: NightMaker, kind: StepKind
) -> None:
    tonight = night(recipe="young_plants")
    until_step(tonight, kind)
    for_seconds(tonight, 2.0)
    tonight.scan.order(Command.HOLD, "tester")
    until_state(tonight, RunState.HELD)
    turned = counts(tonight)
    level_l = tonight.rig.plant.volume_l
    for_seconds(tonight, 600)
    assert tonight.scan.state is RunState.HELD
    assert everything_off(tonight)
    assert counts(tonight) == turned
    assert tonight.rig.plant.volume_l <= level_l + 0.5
    tonight.scan.order(Command.RESTART, "tester")
    until_state(tonight, RunState.RUNNING)
    until(tonight, lambda now: now.state is not RunState.RUNNING)
    assert tonight.scan.state is RunState.COMPLETE
    assert tonight.violations == ()


def test_a_dose_held_half_way_ends_at_exactly_its_count(night: NightMaker) -> None:
    tonight = night(recipe="young_plants")
    until_step(tonight, StepKind.DOSE)
    for _ in range(5):
        for_seconds(tonight, 7.0)
        tonight.scan.order(Command.HOLD, "tester")
        until_state(tonight, RunState.HELD)
        tonight.scan.order(Command.RESTART, "tester")
        until_state(tonight, RunState.RUNNING)
    until_step(tonight, StepKind.RINSE)
    dose_id = 1
    assert counts(tonight)[dose_id] == tonight.rig.targets[dose_id]


@pytest.mark.parametrize("position", [Selector.OFF, Selector.HAND])
@pytest.mark.parametrize("kind", [StepKind.FILL, StepKind.DOSE, StepKind.SETTLE, StepKind.KEEP])
def test_leaving_hand_or_off_restarts_nothing(night: NightMaker, position: Selector, kind: StepKind) -> None:
    tonight = night(recipe="young_plants")
    until_step(tonight, kind)
    tonight.rig.panel.selector = position
    until_state(tonight, RunState.HELD)
    tonight.rig.panel.selector = Selector.AUTO
    for_seconds(tonight, 60)
    assert tonight.scan.state is RunState.HELD
    assert everything_off(tonight)


def test_a_restart_is_refused_while_its_cause_is_there(night: NightMaker) -> None:
    tonight = night()
    until_step(tonight, StepKind.DOSE)
    tonight.rig.panel.selector = Selector.OFF
    until_state(tonight, RunState.HELD)
    tonight.scan.order(Command.RESTART, "phone")
    for_seconds(tonight, 10)
    assert tonight.scan.state is RunState.HELD
    tonight.scan.order(Command.STOP, "tester")
    until_state(tonight, RunState.STOPPED)
    tonight.close()
    acts = [act.event for act in read_batch(tonight.record_path, tonight.batch).acts]
    assert ("phone", "restart", "refused: selector off") in [(act.who, act.act, act.answer) for act in acts]


def test_hand_stirs_and_nothing_else(night: NightMaker) -> None:
    tonight = night()
    until_step(tonight, StepKind.SETTLE)
    tonight.rig.panel.selector = Selector.HAND
    until_state(tonight, RunState.HELD)
    for_seconds(tonight, 30)
    driven = tonight.rig.panel.driven
    assert (driven.stir, driven.air, driven.permit, driven.dose, driven.fill) == (
        True,
        False,
        False,
        None,
        None,
    )
    assert tonight.rig.plant.stir


def test_hand_does_not_run_the_stir_pump_dry(night: NightMaker) -> None:
    tonight = night()
    until_step(tonight, StepKind.FILL)
    assert tonight.rig.plant.volume_l < tonight.rig.site.rig.tank.low_float_l
    tonight.rig.panel.selector = Selector.HAND
    until_state(tonight, RunState.HELD)
    for_seconds(tonight, 30)
    assert not tonight.rig.panel.driven.stir


def test_releasing_the_emergency_stop_restarts_nothing(night: NightMaker) -> None:
    tonight = night()
    until_step(tonight, StepKind.DOSE)
    tonight.rig.panel.estop_ok = False
    until_state(tonight, RunState.ABORTED)
    turned = counts(tonight)
    tonight.rig.panel.estop_ok = True
    for order in (Command.RESTART, Command.START):
        tonight.scan.order(order, "tester")
    for _ in range(20):
        tonight.scan.scan(tonight.rig.now_s)
        tonight.rig.advance(tonight.rig.now_s + 1)
    assert tonight.scan.state is RunState.ABORTED
    assert everything_off(tonight)
    assert counts(tonight) == turned


def test_the_wall_button_holds_and_restarts_on_a_fresh_press_only(night: NightMaker) -> None:
    tonight = night()
    until_step(tonight, StepKind.MIX)
    tonight.rig.panel.button = True
    until_state(tonight, RunState.HELD)
    for_seconds(tonight, 30)
    assert tonight.scan.state is RunState.HELD
    tonight.rig.panel.button = False
    for_seconds(tonight, 5)
    assert tonight.scan.state is RunState.HELD
    tonight.rig.panel.button = True
    until_state(tonight, RunState.RUNNING)


def test_the_wall_button_acknowledges_first_and_restarts_only_when_pressed_again(night: NightMaker) -> None:
    tonight = night()
    until_step(tonight, StepKind.MIX)
    tonight.rig.restart_board()
    until_state(tonight, RunState.HELD)
    for press, expected in ((1, RunState.HELD), (2, RunState.RUNNING)):
        snapshot = tonight.step()
        assert (Cause.BOARD_RESTARTED in snapshot.unacknowledged) is (press == 1)
        tonight.rig.panel.button = True
        for_seconds(tonight, 5)
        tonight.rig.panel.button = False
        for_seconds(tonight, 5)
        assert tonight.scan.state is expected
    tonight.close()
    acts = [act.event for act in read_batch(tonight.record_path, tonight.batch).acts]
    assert [(act.who, act.act) for act in acts[-2:]] == [
        ("wall button", "acknowledge"),
        ("wall button", "restart"),
    ]


def test_a_settle_disturbed_by_a_hold_begins_again(night: NightMaker) -> None:
    tonight = night()
    until_step(tonight, StepKind.SETTLE)
    settle_s = tonight.rig.site.policy.mixing.settle_s
    for_seconds(tonight, settle_s - 20)
    tonight.scan.order(Command.HOLD, "tester")
    until_state(tonight, RunState.HELD)
    tonight.scan.order(Command.RESTART, "tester")
    until_state(tonight, RunState.RUNNING)
    again_s = tonight.rig.now_s
    until_step(tonight, StepKind.MEASURE)
    assert tonight.rig.now_s - again_s >= settle_s - 0.1


def test_a_stop_ends_the_batch_for_good_and_writes_what_was_dosed(night: NightMaker) -> None:
    tonight = night()
    until_step(tonight, StepKind.DOSE)
    for_seconds(tonight, 60)
    tonight.scan.order(Command.STOP, "tester")
    until_state(tonight, RunState.STOPPED)
    tonight.close()
    record = read_batch(tonight.record_path, tonight.batch)
    assert record.ended is not None
    assert (record.ended.event.result, record.ended.event.released) == ("stopped", False)
    (dose,) = record.doses
    assert dose.result is not None
    assert dose.result.event.outcome == "short"
    assert 0 < dose.result.event.count_done < dose.intent.event.target_count
    assert abs(dose.result.event.ml - tonight.rig.pins.ml_by_dose[1]) <= dose.result.event.uncertainty_ml
