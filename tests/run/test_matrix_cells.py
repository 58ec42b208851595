"""Every cell of the cause-and-effect matrix, executed: each cause in each run state, through real scans.

What each cell must do is read off the printed matrix, so that the page and the program cannot differ. States
and what each command may do in them: ISA-88 (IEC 61512-1), see the run machine's own table.
"""

from __future__ import annotations

import pytest
from cause_drivers import BOOK, Driver
from run_states import PASSING, PLACES, At, Bench

from controller.plan.steps import StepKind
from controller.record.events import AlarmState
from controller.run.alarm_track import OFF_DELAY_S
from controller.run.interlock_row import Clear, Interlock, Output, Response
from controller.run.interlock_table import ROW_OF, TABLE
from controller.run.matrix import QUARANTINED, Mark, effects_of
from controller.run.request import Request
from controller.run.sequence import TRANSITIONS, Command, RunState
from controller.run.situation import Cause
from controller.run.snapshot import Snapshot
from controller.settings.values import Site

ANSWER = {Response.HOLD: Command.HOLD, Response.STOP: Command.STOP, Response.ABORT: Command.ABORT}
COMES_FROM = {
    RunState.HOLDING: (At(RunState.RUNNING), Command.HOLD),
    RunState.RESTARTING: (At(RunState.HELD), Command.RESTART),
    RunState.STOPPING: (At(RunState.RUNNING), Command.STOP),
    RunState.ABORTING: (At(RunState.RUNNING), Command.ABORT),
}
WITHIN_A_PASSING_STATE_S = 60.0
STAYS_OFF = {RunState.HELD, RunState.STOPPED, RunState.ABORTED, RunState.IDLE, RunState.COMPLETE}


def asked(outputs: Request) -> set[Output]:
    on = {
        Output.FILL: outputs.fill is not None,
        Output.DOSE: outputs.dose is not None,
        Output.STIR: outputs.stir,
        Output.AIR: outputs.air,
        Output.AGITATE: bool(outputs.agitators),
        Output.DRAIN: outputs.drain,
        Output.PERMIT: outputs.permit,
    }
    return {output for output, is_on in on.items() if is_on}


def next_state(state: RunState, response: Response) -> RunState:
    """What ISA-88 makes of the response in this state; a passing state goes on when it knows none."""
    for command in (ANSWER.get(response), Command.DONE if state in PASSING else None):
        for known, sources, target in TRANSITIONS:
            if known is command and state in sources:
                return target
    return state


def trip(bench: Bench, cause: Cause, at: At, driver: Driver) -> Snapshot | None:
    """Come to the state with the cause about to trip there; give the scan in which it does, if ever."""
    delay_s = ROW_OF[cause].delay_s + driver.lead_s
    if at.state not in COMES_FROM:
        bench.enter(at)
        bench.dwell(20.0, 2.0)
        driver.on(bench)
        for _ in range(int((delay_s + 2.0) / driver.every_s) + 1):
            if bench.scan.state is not at.state:
                break
            snapshot = bench.look(driver.every_s)
            if cause in snapshot.active:
                return snapshot
        return None
    source, command = COMES_FROM[at.state]
    bench.enter(source)
    bench.dwell(20.0, 2.0)
    if 0.0 < delay_s < WITHIN_A_PASSING_STATE_S:
        driver.on(bench)
        bench.look()
        bench.look(delay_s - 0.5)
        bench.order(command)
        assert bench.scan.state is at.state
        snapshot = bench.look(0.6)
    else:
        bench.order(command)
        assert bench.scan.state is at.state
        driver.on(bench)
        snapshot = bench.look()
    return snapshot if cause in snapshot.active else None


CELLS = [(cause, at) for cause in Cause for at in PLACES if BOOK[cause].can_be(at)]
NO_CELLS = [(cause, at) for cause in Cause for at in PLACES if not BOOK[cause].can_be(at)]


def named(value: object) -> str:
    return value.name if isinstance(value, Cause) else str(value)


def test_no_cell_of_the_table_is_left_out() -> None:
    assert set(BOOK) == set(Cause) == {row.cause for row in TABLE}
    assert {at.state for at in PLACES} == set(RunState)
    assert {at.kind for at in PLACES if at.kind} == set(StepKind)
    assert len(CELLS) + len(NO_CELLS) == len(TABLE) * len(PLACES)
    for cause in Cause:
        assert any(cell is cause for cell, _ in CELLS), f"{cause} is proved in no state"


@pytest.mark.parametrize(("cause", "at"), CELLS, ids=named)
def test_a_cause_in_a_state_has_exactly_its_effects(demo_site: Site, cause: Cause, at: At) -> None:
    row, driver, bench = ROW_OF[cause], BOOK[cause], Bench(demo_site)
    tripped = trip(bench, cause, at, driver)
    assert tripped is not None, "it did not trip"
    assert_effects(bench, row, tripped, at)
    assert_told(bench, row)
    assert_first_out(bench, row)


@pytest.mark.parametrize(("cause", "at"), CELLS, ids=named)
def test_a_cause_that_goes_restarts_nothing_and_is_over_by_its_rule(
    demo_site: Site, cause: Cause, at: At
) -> None:
    row, driver, bench = ROW_OF[cause], BOOK[cause], Bench(demo_site)
    assert trip(bench, cause, at, driver) is not None
    driver.off(bench)
    snapshot = bench.dwell(5.0)
    latched = row.clear is Clear.ACKNOWLEDGED
    assert (cause in snapshot.active) is latched
    if not row.acts:
        bench.scan.acknowledge("tester")
        assert cause not in bench.look().active
        return
    assert bench.scan.state in STAYS_OFF
    assert asked(snapshot.outputs) == set()
    bench.scan.order(Command.RESTART, "hasty")
    snapshot = bench.dwell(2.0)
    if latched:
        assert bench.scan.state in STAYS_OFF, "a restart is refused while the latch stands"
        assert asked(snapshot.outputs) == set()
        bench.scan.acknowledge("tester")
        assert cause not in bench.look().active


def assert_effects(bench: Bench, row: Interlock, tripped: Snapshot, at: At) -> None:
    """Off in the very scan of the trip, and the response taken in it."""
    marks = effects_of(row)
    off = {output for output in Output if marks[output.value] is not Mark.NONE}
    by_hand = {Output.STIR} if row.cause is Cause.SELECTOR_HAND else set()
    assert asked(bench.rig.written[-1]) & off <= by_hand
    fed_empty = row.cause is Cause.LOW_FLOAT and at.kind is StepKind.KEEP
    assert tripped.state is (RunState.COMPLETE if fed_empty else next_state(at.state, row.response))
    if marks[QUARANTINED] is not Mark.NONE and at.state is not RunState.IDLE:
        assert not tripped.released
    for output in row.blocks:
        assert output not in asked(bench.rig.written[-1])


def assert_told(bench: Bench, row: Interlock) -> None:
    raised = [event for _, event in bench.ledger.alarms(AlarmState.RAISED) if event.alarm == row.cause.value]
    if not row.is_alarm:
        assert raised == []
        return
    (alarm,) = raised
    assert row.consequence in alarm.text
    assert (alarm.remedy, alarm.priority) == (row.remedy, row.priority.value)
    assert alarm.first_out is row.acts


def assert_first_out(bench: Bench, row: Interlock) -> None:
    """What comes later is told, but not as the first."""
    second = Cause.LEAK if row.cause is Cause.ESTOP else Cause.ESTOP
    BOOK[second].on(bench)
    bench.look()
    later = [event for _, event in bench.ledger.alarms(AlarmState.RAISED) if event.alarm == second.value]
    assert [event.first_out for event in later] == [not row.acts]


@pytest.mark.parametrize(("cause", "at"), NO_CELLS, ids=named)
def test_where_a_cause_cannot_be_it_stays_away_though_it_is_driven(
    demo_site: Site, cause: Cause, at: At
) -> None:
    bench = Bench(demo_site)
    assert trip(bench, cause, at, BOOK[cause]) is None
    assert cause.value not in {event.alarm for _, event in bench.ledger.alarms()}


def test_an_alarm_is_not_told_as_gone_before_its_off_delay(demo_site: Site) -> None:
    bench = Bench(demo_site)
    trip(bench, Cause.SELECTOR_OFF, At(RunState.RUNNING, StepKind.MIX), BOOK[Cause.SELECTOR_OFF])
    BOOK[Cause.SELECTOR_OFF].off(bench)
    bench.dwell(OFF_DELAY_S - 1.0)
    assert bench.ledger.alarms(AlarmState.RETURNED) == []
    bench.dwell(2.0)
    assert [event.alarm for _, event in bench.ledger.alarms(AlarmState.RETURNED)] == ["selector off"]


DRIVES = {
    StepKind.FILL: {Output.FILL},
    StepKind.CONDITION: {Output.STIR, Output.AIR},
    StepKind.AGITATE: {Output.STIR, Output.AGITATE},
    StepKind.DOSE: {Output.STIR, Output.DOSE},
    StepKind.RINSE: {Output.STIR, Output.DOSE},
    StepKind.MIX: {Output.STIR, Output.AIR},
    StepKind.REBOUND: {Output.STIR, Output.AIR},
    StepKind.KEEP: {Output.PERMIT},
    StepKind.DELIVER: {Output.DOSE},
}


@pytest.mark.parametrize("kind", StepKind, ids=lambda kind: kind.value)
def test_before_a_trip_each_step_really_drives_what_it_is_for(demo_site: Site, kind: StepKind) -> None:
    bench = Bench(demo_site)
    bench.enter(At(RunState.RUNNING, kind))
    bench.dwell(20.0, 2.0)
    assert asked(bench.rig.written[-1]) == DRIVES.get(kind, set())
