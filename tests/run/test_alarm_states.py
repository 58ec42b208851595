"""The states of one alarm by ISA-18.2 (IEC 62682): raised, acknowledged, returned, latched, shelved."""

from __future__ import annotations

import pytest
from cause_drivers import BOOK
from run_states import At, Bench

from controller.plan.steps import StepKind
from controller.record.events import AlarmState, OperatorAct
from controller.run.alarm_budget import AlarmBudget
from controller.run.alarm_track import OFF_DELAY_S, AlarmStatus, Standing
from controller.run.alarms import LONGEST_SHELF_S, Alarms
from controller.run.interlock_row import Priority, Response
from controller.run.interlock_table import ROW_OF, TABLE
from controller.run.sequence import Command, RunState
from controller.run.situation import Cause
from controller.settings.values import Site


@pytest.fixture
def bench(demo_site: Site) -> Bench:
    made = Bench(demo_site)
    made.enter(At(RunState.RUNNING, StepKind.MIX))
    return made


def status(bench: Bench, cause: Cause) -> AlarmStatus:
    assert bench.scan.snapshot is not None
    found = {alarm: state for alarm, state, _ in bench.scan.snapshot.alarms}
    return found.get(cause, AlarmStatus.NORMAL)


def story(bench: Bench, cause: Cause) -> list[str]:
    return [event.state for _, event in bench.ledger.alarms() if event.alarm == cause.value]


def test_an_alarm_that_goes_by_itself_is_returned_until_somebody_acknowledges(bench: Bench) -> None:
    cause = Cause.SELECTOR_OFF
    assert status(bench, cause) is AlarmStatus.NORMAL
    BOOK[cause].on(bench)
    bench.look()
    assert status(bench, cause) is AlarmStatus.UNACKNOWLEDGED
    BOOK[cause].off(bench)
    bench.dwell(OFF_DELAY_S + 1.0)
    assert status(bench, cause) is AlarmStatus.RETURNED
    bench.scan.acknowledge("tester")
    bench.look()
    assert status(bench, cause) is AlarmStatus.NORMAL
    assert story(bench, cause) == ["raised", "returned", "acknowledged", "cleared"]


def test_an_alarm_acknowledged_while_it_stands_is_cleared_when_it_has_gone(bench: Bench) -> None:
    cause = Cause.SELECTOR_OFF
    BOOK[cause].on(bench)
    bench.look()
    bench.scan.acknowledge("tester")
    bench.look()
    assert status(bench, cause) is AlarmStatus.ACKNOWLEDGED
    BOOK[cause].off(bench)
    bench.dwell(OFF_DELAY_S + 1.0)
    assert story(bench, cause) == ["raised", "acknowledged", "cleared"]


def test_an_alarm_whose_cause_has_gone_is_latched_until_somebody_acknowledges(bench: Bench) -> None:
    BOOK[Cause.LEAK].on(bench)
    bench.look()
    BOOK[Cause.LEAK].off(bench)
    bench.dwell(5000.0, 50.0)
    assert status(bench, Cause.LEAK) is AlarmStatus.LATCHED
    bench.scan.acknowledge("tester")
    bench.look()
    assert story(bench, Cause.LEAK) == ["raised", "acknowledged", "cleared"]


def test_a_consequence_acts_but_is_not_announced_while_its_root_stands(bench: Bench) -> None:
    BOOK[Cause.ESTOP].on(bench)
    BOOK[Cause.BOARD_SILENT].on(bench)
    bench.dwell(3.0, 0.5)
    assert bench.scan.snapshot is not None
    assert Cause.BOARD_SILENT in bench.scan.snapshot.active
    assert status(bench, Cause.BOARD_SILENT) is AlarmStatus.SUPPRESSED
    assert story(bench, Cause.BOARD_SILENT) == ["suppressed"]
    (why,) = [event.text for _, event in bench.ledger.alarms(AlarmState.SUPPRESSED)]
    assert why.startswith("Not announced: it follows from emergency stop.")
    assert bench.scan.snapshot.unacknowledged == {Cause.ESTOP}


def test_a_consequence_that_outlasts_its_root_is_announced_then(bench: Bench) -> None:
    for cause in (Cause.HIGH_FLOAT, Cause.BOARD_TRIPPED):
        BOOK[cause].on(bench)
    bench.dwell(3.0)
    assert bench.ledger.raised() == ["high float"]
    BOOK[Cause.HIGH_FLOAT].off(bench)
    bench.scan.acknowledge("tester")
    bench.dwell(2.0)
    assert bench.ledger.raised() == ["high float", "board tripped"]
    assert status(bench, Cause.BOARD_TRIPPED) is AlarmStatus.UNACKNOWLEDGED


def test_a_latched_consequence_is_announced_after_its_root_though_its_condition_has_gone() -> None:
    alarms = Alarms()
    root = Standing(ROW_OF[Cause.ESTOP], holds=True)
    latched = Standing(ROW_OF[Cause.BOARD_RESTARTED], holds=False)
    first = alarms.look((root, latched), False, None, Cause.ESTOP, 0.0)
    assert [(notice.row.cause, notice.state) for notice in first] == [
        (Cause.ESTOP, AlarmState.RAISED),
        (Cause.BOARD_RESTARTED, AlarmState.SUPPRESSED),
    ]
    (later,) = alarms.look((latched,), False, None, Cause.ESTOP, 1.0)[-1:]
    assert (later.row.cause, later.state) == (Cause.BOARD_RESTARTED, AlarmState.RAISED)
    assert alarms.status(Cause.BOARD_RESTARTED)[0] is AlarmStatus.LATCHED


def test_no_root_is_explained_away_by_what_follows_from_it() -> None:
    for row in TABLE:
        for root in row.behind:
            assert row.cause not in ROW_OF[root].behind, "two causes would silence each other"
    never_silent = (Cause.ESTOP, Cause.LEAK, Cause.HIGH_FLOAT, Cause.VALVE_LEAKS_BY, Cause.GUARD_REFUSED)
    assert all(not ROW_OF[cause].behind for cause in never_silent)


SHELVABLE = {Cause.SELECTOR_OFF, Cause.SELECTOR_HAND, Cause.SELECTOR_IMPOSSIBLE, Cause.FOAM}
SHELVABLE |= {Cause.WATER_TEMPERATURE, Cause.STEP_OVERDUE}


@pytest.mark.parametrize("cause", Cause, ids=lambda cause: cause.name)
def test_only_what_holds_with_low_or_medium_priority_may_be_shelved(bench: Bench, cause: Cause) -> None:
    row = ROW_OF[cause]
    bench.scan.shelve(cause, "tester", 600.0)
    bench.look()
    (act,) = [event for _, event in bench.ledger.events if isinstance(event, OperatorAct)][1:]
    assert (act.who, act.act) == ("tester", f"shelve {cause.value} for 10 min")
    assert (act.answer == "taken") is (cause in SHELVABLE)
    if cause in SHELVABLE:
        assert row.priority is not Priority.HIGH
        assert row.response is Response.HOLD
        assert story(bench, cause) == ["shelved"]
    else:
        assert act.answer.startswith("refused: only")
        assert story(bench, cause) == []


@pytest.mark.parametrize("for_s", [0.0, -5.0, LONGEST_SHELF_S + 1.0, float("inf"), float("nan")])
def test_a_shelf_without_an_end_is_refused(bench: Bench, for_s: float) -> None:
    assert Alarms().why_not_shelve(Cause.SELECTOR_OFF, for_s) is not None
    assert Alarms().why_not_shelve(Cause.SELECTOR_OFF, LONGEST_SHELF_S) is None


def test_a_shelf_ends_by_itself_and_what_still_stands_is_announced_then(bench: Bench) -> None:
    cause = Cause.SELECTOR_OFF
    bench.scan.shelve(cause, "tester", 600.0)
    BOOK[cause].on(bench)
    bench.dwell(599.0)
    assert bench.scan.snapshot is not None
    assert bench.scan.snapshot.active == (cause,)
    assert bench.scan.snapshot.unacknowledged == frozenset()
    assert status(bench, cause) is AlarmStatus.SHELVED
    assert bench.ledger.raised() == []
    bench.dwell(2.0)
    assert story(bench, cause) == ["shelved", "shelf ended", "raised"]
    assert bench.scan.snapshot.unacknowledged == {cause}


def test_a_shelf_silences_an_alarm_that_already_stands(bench: Bench) -> None:
    BOOK[Cause.SELECTOR_HAND].on(bench)
    bench.look()
    bench.scan.shelve(Cause.SELECTOR_HAND, "tester", 60.0)
    snapshot = bench.look()
    assert snapshot.unacknowledged == frozenset()
    bench.dwell(61.0)
    assert story(bench, Cause.SELECTOR_HAND) == ["raised", "shelved", "shelf ended", "raised"]


def test_the_scan_asks_to_be_woken_when_a_shelf_or_an_off_delay_ends(bench: Bench) -> None:
    bench.order(Command.HOLD)
    bench.look(5.0)
    bench.scan.shelve(Cause.SELECTOR_OFF, "tester", 0.5)
    now_s = bench.rig.now_s
    assert bench.scan.scan(now_s) == pytest.approx(now_s + 0.5)


# A flood by ISA-18.2 / IEC 62682: ten or more alarms in ten minutes for one operator.
FLOOD, FLOOD_WITHIN_S = 10, 600.0


def test_the_tenth_alarm_in_ten_minutes_waits_for_the_first_to_be_ten_minutes_old() -> None:
    budget = AlarmBudget()
    causes = list(Cause)
    for place in range(FLOOD - 1):
        episode = budget.episode_for(causes[place], ())
        assert budget.why_not(episode, float(place)) is None
        budget.spend(episode, float(place))
    late = budget.episode_for(causes[FLOOD], ())
    assert budget.why_not(late, FLOOD_WITHIN_S - 0.1) is not None
    assert budget.free_s(FLOOD_WITHIN_S - 0.1) == FLOOD_WITHIN_S
    assert budget.why_not(late, FLOOD_WITHIN_S) is None


def test_every_alarm_names_its_consequence_and_begins_with_the_one_thing_to_do() -> None:
    for row in TABLE:
        if row.is_alarm:
            assert row.consequence.count(".") <= 2, row.cause
            assert row.remedy[0].isupper(), row.cause
            assert len(row.remedy) < 110, row.cause
            assert row.remedy.split()[0] not in ("The", "This", "It", "There"), row.cause
