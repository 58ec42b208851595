"""What is in doubt is told, held and left to a person; an acknowledgement of one thing covers no other."""

from __future__ import annotations

import pytest
from night_script import NightMaker, counts, for_seconds, until, until_state, until_step

from controller.plan.steps import StepKind
from controller.record.batch_record import BatchRecord, read_batch
from controller.run.sequence import Command, RunState
from controller.run.situation import Cause
from sim.night import Night


def record_of(night: Night) -> BatchRecord:
    night.close()
    return read_batch(night.record_path, night.batch)


def raised(record: BatchRecord) -> list[str]:
    return [alarm.event.alarm for alarm in record.alarms if alarm.event.state == "raised"]


def test_an_acknowledgement_given_for_nothing_does_not_hide_a_board_that_restarts(night: NightMaker) -> None:
    tonight = night()
    until_step(tonight, StepKind.DOSE)
    for_seconds(tonight, 20)
    tonight.rig.restart_board()
    tonight.scan.acknowledge("tester")
    tonight.step()
    tonight.step()
    assert tonight.scan.state in (RunState.HOLDING, RunState.HELD)
    assert Cause.BOARD_RESTARTED in tonight.scan.snapshot.active  # type: ignore[union-attr]


def test_a_dose_the_board_forgot_is_told_at_the_hold_and_goes_on_only_by_a_person(night: NightMaker) -> None:
    tonight = night()
    until_step(tonight, StepKind.DOSE)
    for_seconds(tonight, 60)
    tonight.rig.restart_board()
    until_state(tonight, RunState.HELD)
    for_seconds(tonight, 5)
    turned = counts(tonight)
    tonight.scan.order(Command.RESTART, "hasty")
    for_seconds(tonight, 5)
    assert tonight.scan.state is RunState.HELD
    tonight.scan.acknowledge("tester")
    for_seconds(tonight, 2)
    tonight.scan.order(Command.RESTART, "tester")
    until_step(tonight, StepKind.RINSE)
    assert counts(tonight)[1] == turned[1], "the rest of a forgotten dose is not guessed at"
    until(tonight, lambda now: now.state is not RunState.RUNNING)
    assert tonight.violations == ()
    record = record_of(tonight)
    assert raised(record)[:2] == [Cause.BOARD_RESTARTED.value, Cause.DOSE_UNPROVEN.value]
    told = next(alarm.event.text for alarm in record.alarms if alarm.event.alarm == Cause.DOSE_UNPROVEN.value)
    assert "mL of fish_hydrolysate proven of 720.0 mL" in told
    dose = record.doses[0]
    assert dose.result is not None
    result = dose.result.event
    assert result.outcome == "unproven"
    assert abs(tonight.rig.pins.ml_by_dose[1] - result.ml) <= result.uncertainty_ml


def test_a_rinse_the_board_forgot_is_told_too(night: NightMaker) -> None:
    tonight = night()
    until_step(tonight, StepKind.RINSE)
    until(tonight, lambda now: now.outputs.dose is not None)
    for_seconds(tonight, 2)
    tonight.rig.restart_board()
    until_state(tonight, RunState.HELD)
    for_seconds(tonight, 5)
    tonight.scan.acknowledge("tester")
    for_seconds(tonight, 2)
    tonight.scan.order(Command.RESTART, "tester")
    until_step(tonight, StepKind.MIX)
    tonight.scan.order(Command.STOP, "tester")
    until_state(tonight, RunState.STOPPED)
    record = record_of(tonight)
    assert [d.result.event.outcome for d in record.doses if d.result].count("unproven") == 1
    assert Cause.DOSE_UNPROVEN.value in raised(record)


def test_a_hold_that_becomes_too_long_keeps_the_reason_it_began_with(night: NightMaker) -> None:
    tonight = night((300.0, "supply-lost"))
    until_state(tonight, RunState.STOPPED)
    record = record_of(tonight)
    assert record.ended is not None
    assert record.ended.event.reason == "held too long, after: no supply water"


def test_a_glass_that_never_moved_releases_nothing(night: NightMaker) -> None:
    tonight = night(recipe="plain_flush")
    tonight.rig.pins.overrides["ph"] = 3
    until_state(tonight, RunState.STOPPED)
    record = record_of(tonight)
    assert record.ended is not None
    assert not record.ended.event.released
    assert "never moved" in record.ended.event.reason


@pytest.mark.parametrize("command", [Command.HOLD, Command.STOP, Command.ABORT])
def test_every_step_that_began_has_an_end_in_the_record(night: NightMaker, command: Command) -> None:
    tonight = night(recipe="young_plants")
    until_step(tonight, StepKind.DOSE)
    for_seconds(tonight, 10)
    tonight.scan.order(command, "tester")
    if command is Command.HOLD:
        until_state(tonight, RunState.HELD)
        tonight.scan.order(Command.STOP, "tester")
    end = RunState.ABORTED if command is Command.ABORT else RunState.STOPPED
    until_state(tonight, end)
    record = record_of(tonight)
    assert all(step.ended is not None for step in record.steps)
    assert record.steps[-1].ended is not None
    assert record.steps[-1].ended.event.result == end.value
    assert all(dose.result is not None for dose in record.doses)


def test_a_clock_that_is_not_synchronised_starts_nothing(
    night: NightMaker, monkeypatch: pytest.MonkeyPatch
) -> None:
    tonight = night()
    monkeypatch.setattr(tonight.scan._procedure, "_today", lambda: None)
    until_state(tonight, RunState.STOPPED)
    record = record_of(tonight)
    assert record.ended is not None
    assert "clock is not synchronised" in record.ended.event.reason
    assert record.doses == ()


def test_a_probe_lost_while_the_tank_is_kept_takes_the_permit_within_two_minutes(night: NightMaker) -> None:
    tonight = night(recipe="plain_flush")
    until_step(tonight, StepKind.KEEP)
    for_seconds(tonight, 400)
    assert tonight.rig.panel.driven.permit
    tonight.rig.pins.overrides["ph"] = 12_000
    for_seconds(tonight, 150)
    assert not tonight.rig.panel.driven.permit


def test_a_tank_whose_ph_leaves_the_window_loses_its_permit_before_the_next_stir(night: NightMaker) -> None:
    tonight = night(recipe="plain_flush")
    until_step(tonight, StepKind.KEEP)
    for_seconds(tonight, 400)
    tonight.rig.pins.overrides["ph"] = 200
    for_seconds(tonight, 200)
    assert not tonight.rig.panel.driven.permit
    record = record_of(tonight)
    assert Cause.PERMIT_WITHDRAWN.value in raised(record)


def test_stir_does_not_drop_between_the_steps_of_one_addition(night: NightMaker) -> None:
    tonight = night(recipe="young_plants")
    until_step(tonight, StepKind.DOSE)
    for_seconds(tonight, 5)
    while tonight.step(0.5).kind is not StepKind.FILL:
        assert tonight.rig.panel.driven.stir
