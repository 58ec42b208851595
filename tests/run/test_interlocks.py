"""Each cause fires on its own condition, after its own delay, and is over by its own rule."""

from __future__ import annotations

from dataclasses import replace

import pytest
from calm import CALM, with_board, with_panel
from cause_drivers import PHASE_CAUSES

from controller.plan.steps import StepKind
from controller.record.events import AlarmState
from controller.run.causes.batch import LONG_HOLD_S
from controller.run.causes.emergency import LEAK_BY_L
from controller.run.causes.machine import STALE_S
from controller.run.causes.tank import FALL_L, FOAM_L, STALL_S, SUPPLY_DRY_S
from controller.run.image import Image, Selector, Trip
from controller.run.interlock_row import Clear, Interlock, Output, Response
from controller.run.interlock_table import ROW_OF, TABLE
from controller.run.interlocks import Interlocks
from controller.run.request import DoseCommand, FillCommand, Request
from controller.run.situation import Cause, FillWatch, Situation, Trouble
from controller.settings.values import Site

FILLING = Request(fill=FillCommand(1, 1000, 1))
DOSING = Request(stir=True, dose=DoseCommand(0, 1, 100, 50, 77))

# For every cause, situations that must trip it and near misses that must not.
TRIPS: dict[Cause, list[Situation]] = {
    Cause.ESTOP: [with_panel(estop_ok=False)],
    Cause.LEAK: [with_board(leak=True)],
    Cause.HIGH_FLOAT: [with_board(high_float=True), with_panel(high_float=True)],
    Cause.VALVE_LEAKS_BY: [replace(CALM, still_rise_l=LEAK_BY_L + 0.1)],
    Cause.BOARD_TRIPPED: [with_board(trips=frozenset({trip})) for trip in Trip],
    Cause.BOARD_RESTARTED: [with_board(boot_id=78)],
    Cause.BOARD_SILENT: [replace(CALM, image=Image(None, CALM.image.panel))],
    Cause.ENABLE_LOST: [
        replace(with_board(enabled=False), driven=asked)
        for asked in (FILLING, DOSING, Request(stir=True), Request(permit=True))
    ],
    Cause.GUARD_REFUSED: [replace(CALM, guard_refused="asked for something forbidden")],
    Cause.RECORD_FAULT: [replace(CALM, record_fault="disk full")],
    Cause.STALE_INPUT: [replace(CALM, stale_s=STALE_S + 0.1)],
    Cause.SELECTOR_IMPOSSIBLE: [with_panel(selector=Selector.IMPOSSIBLE)],
    Cause.SELECTOR_OFF: [with_panel(selector=Selector.OFF)],
    Cause.SELECTOR_HAND: [with_panel(selector=Selector.HAND)],
    Cause.SUPPLY_FAILED: [replace(CALM, fill=FillWatch(0, 0, SUPPLY_DRY_S + 1))],
    Cause.FILL_DISAGREES: [
        replace(CALM, fill=FillWatch(10, 20, 0)),
        replace(CALM, fill=FillWatch(20, 10, 0)),
    ],
    Cause.LEVEL_LOST: [
        replace(CALM, readings=replace(CALM.readings, level_l=None), kind=StepKind.FILL),
        replace(CALM, readings=replace(CALM.readings, level_l=None), driven=DOSING),
    ],
    Cause.FOAM: [replace(CALM, foam_l=FOAM_L + 0.1)],
    Cause.LEVEL_FALLS: [
        replace(CALM, sinking_l=FALL_L + 0.1, kind=StepKind.MIX),
        replace(CALM, trouble=Trouble(Cause.LEVEL_FALLS, "seen")),
    ],
    Cause.PUMP_STALLED: [replace(CALM, stalled_s=STALL_S + 1)],
    Cause.LOW_FLOAT: [with_panel(low_float=True)],
    Cause.RUN_DRY: [
        replace(with_panel(low_float=True), kind=kind)
        for kind in (StepKind.DOSE, StepKind.MIX, StepKind.REBOUND)
    ],
    Cause.HELD_LONG: [replace(CALM, held_s=LONG_HOLD_S + 1)],
    **{cause: [replace(CALM, trouble=Trouble(cause, "seen"))] for cause in PHASE_CAUSES},
}
NEAR_MISSES: list[Situation] = [
    CALM,
    replace(CALM, still_rise_l=LEAK_BY_L),
    replace(CALM, stale_s=STALE_S),
    replace(CALM, foam_l=FOAM_L),
    replace(CALM, sinking_l=FALL_L, kind=StepKind.MIX),
    *[replace(CALM, sinking_l=FALL_L + 0.1, kind=kind) for kind in (StepKind.KEEP, StepKind.FILL, None)],
    replace(CALM, boot_id_expected=None),
    with_board(enabled=False),
    replace(CALM, fill=FillWatch(10, 10, SUPPLY_DRY_S)),
    replace(CALM, fill=FillWatch(10, 12.9, 0)),
    replace(CALM, readings=replace(CALM.readings, level_l=None)),
    replace(CALM, stalled_s=STALL_S),
    replace(CALM, held_s=LONG_HOLD_S),
    replace(CALM, driven=DOSING),
]


# What each cause must bring about, written down apart from the table: response, and whether it latches.
# Emergency stop and leak end the batch at once (IEC 60204-1: a reset never restarts); what leaves the tank
# doubtful stops it; what a person can put right holds it.
HOLD, STOP, ABORT = Response.HOLD, Response.STOP, Response.ABORT
MUST: dict[Cause, tuple[Response, bool]] = {
    Cause.ESTOP: (ABORT, True),
    Cause.LEAK: (ABORT, True),
    Cause.HIGH_FLOAT: (STOP, True),
    Cause.VALVE_LEAKS_BY: (ABORT, True),
    Cause.BOARD_TRIPPED: (HOLD, True),
    Cause.BOARD_RESTARTED: (HOLD, True),
    Cause.BOARD_SILENT: (HOLD, False),
    Cause.STALE_INPUT: (HOLD, True),
    Cause.ENABLE_LOST: (HOLD, False),
    Cause.GUARD_REFUSED: (ABORT, True),
    Cause.RECORD_FAULT: (HOLD, False),
    Cause.SELECTOR_IMPOSSIBLE: (HOLD, False),
    Cause.SELECTOR_OFF: (HOLD, False),
    Cause.SELECTOR_HAND: (HOLD, False),
    Cause.SUPPLY_FAILED: (HOLD, True),
    Cause.FILL_DISAGREES: (HOLD, True),
    Cause.LEVEL_LOST: (HOLD, True),
    Cause.FOAM: (HOLD, True),
    Cause.LEVEL_FALLS: (HOLD, True),
    Cause.PUMP_STALLED: (HOLD, True),
    Cause.LOW_FLOAT: (Response.NONE, False),
    Cause.RUN_DRY: (HOLD, True),
    Cause.PRECONDITION: (STOP, True),
    Cause.CLOCK_DOUBTFUL: (STOP, True),
    Cause.CALIBRATION_OVERDUE: (STOP, True),
    Cause.PROOF_TEST_OVERDUE: (STOP, True),
    Cause.STOCK_EMPTY: (HOLD, True),
    Cause.CAP_REACHED: (STOP, True),
    Cause.WATER_TEMPERATURE: (HOLD, True),
    Cause.PROBE_DOUBTFUL: (STOP, True),
    Cause.TRIM_FAILED: (STOP, True),
    Cause.DOSE_UNPROVEN: (HOLD, True),
    Cause.DOSE_MISSING: (HOLD, True),
    Cause.DOSE_EXCESS: (HOLD, True),
    Cause.PUMP_DRIFTED: (HOLD, True),
    Cause.PUMP_DRIFTS: (Response.NONE, True),
    Cause.SCALE_LOST: (Response.NONE, True),
    Cause.STEP_OVERDUE: (HOLD, True),
    Cause.TANK_UNFIT: (STOP, True),
    Cause.PERMIT_WITHDRAWN: (STOP, True),
    Cause.HELD_LONG: (STOP, True),
}
# Beyond fill and dosing, which all of them block.
MUST_BLOCK_ALL = (
    Cause.ESTOP,
    Cause.LEAK,
    Cause.VALVE_LEAKS_BY,
    Cause.BOARD_TRIPPED,
    Cause.BOARD_RESTARTED,
    Cause.BOARD_SILENT,
    Cause.STALE_INPUT,
    Cause.ENABLE_LOST,
    Cause.GUARD_REFUSED,
    Cause.SELECTOR_IMPOSSIBLE,
    Cause.SELECTOR_OFF,
)


@pytest.mark.parametrize("row", TABLE, ids=lambda row: row.cause.name)
def test_each_row_answers_latches_and_blocks_as_it_must(row: Interlock) -> None:
    assert (row.response, row.clear is Clear.ACKNOWLEDGED) == MUST[row.cause]
    if row.cause in MUST_BLOCK_ALL:
        assert row.blocks == frozenset(Output)
    assert row.cause is not Cause.HIGH_FLOAT or Output.PERMIT in row.blocks
    assert row.cause is not Cause.FOAM or Output.AIR in row.blocks
    assert row.cause not in (Cause.LOW_FLOAT, Cause.RUN_DRY) or Output.STIR in row.blocks
    assert row.cause is not Cause.SELECTOR_HAND or row.blocks == frozenset(Output) - {Output.STIR}


def judge_after_delay(interlocks: Interlocks, situation: Situation, row: Interlock, start_s: float = 0.0):
    interlocks.judge(situation, start_s)
    return interlocks.judge(situation, start_s + row.delay_s)


def test_every_cause_has_exactly_one_row_and_a_case_here() -> None:
    assert sorted(row.cause.value for row in TABLE) == sorted(cause.value for cause in Cause)
    assert set(TRIPS) == set(Cause)


@pytest.mark.parametrize("cause", Cause)
def test_a_cause_trips_alone_after_its_delay_and_not_before(cause: Cause, demo_site: Site) -> None:
    row = ROW_OF[cause]
    for situation in TRIPS[cause]:
        interlocks = Interlocks(demo_site.rig)
        early = interlocks.judge(situation, 0.0)
        if row.delay_s:
            assert early.active == ()
            assert early.wake_s == row.delay_s
            assert interlocks.judge(situation, row.delay_s - 0.01).active == ()
        verdict = interlocks.judge(situation, row.delay_s)
        assert [active.cause for active in verdict.active] == [cause]
        assert verdict.blocked == row.blocks
        assert verdict.response is row.response


@pytest.mark.parametrize("place", range(len(NEAR_MISSES)))
def test_nothing_trips_on_a_near_miss(place: int, demo_site: Site) -> None:
    interlocks = Interlocks(demo_site.rig)
    for now_s in (0.0, 10.0, 100.0):
        verdict = interlocks.judge(NEAR_MISSES[place], now_s)
        assert (verdict.active, verdict.blocked, verdict.response) == ((), frozenset(), Response.NONE)


@pytest.mark.parametrize("cause", Cause)
def test_a_cause_is_over_by_its_own_rule_only(cause: Cause, demo_site: Site) -> None:
    row = ROW_OF[cause]
    interlocks = Interlocks(demo_site.rig)
    situation = TRIPS[cause][0]
    judge_after_delay(interlocks, situation, row)
    gone = interlocks.judge(CALM, row.delay_s + 1)
    if row.clear is Clear.BY_ITSELF:
        assert (row, AlarmState.CLEARED) in gone.moves
        assert gone.active == ()
        return
    assert [active.cause for active in gone.active] == [cause]
    interlocks.acknowledge()
    told = interlocks.judge(CALM, row.delay_s + 2)
    assert told.moves == ((row, AlarmState.ACKNOWLEDGED), (row, AlarmState.CLEARED))
    assert interlocks.judge(CALM, row.delay_s + 3).active == ()


@pytest.mark.parametrize("cause", Cause)
def test_acknowledging_does_not_end_a_cause_that_is_still_there(cause: Cause, demo_site: Site) -> None:
    interlocks = Interlocks(demo_site.rig)
    situation = TRIPS[cause][0]
    judge_after_delay(interlocks, situation, ROW_OF[cause])
    interlocks.acknowledge()
    verdict = interlocks.judge(situation, 100.0)
    assert [active.cause for active in verdict.active] == [cause]


def test_an_acknowledgement_does_not_cover_a_cause_that_comes_later(demo_site: Site) -> None:
    interlocks = Interlocks(demo_site.rig)
    interlocks.acknowledge()
    interlocks.judge(CALM, 0.0)
    interlocks.judge(with_panel(estop_ok=False), 1.0)
    assert [row.cause for row in interlocks.judge(CALM, 2.0).active] == [Cause.ESTOP]


def test_a_condition_that_flickers_within_its_delay_never_trips(demo_site: Site) -> None:
    interlocks = Interlocks(demo_site.rig)
    silent = TRIPS[Cause.BOARD_SILENT][0]
    for second in range(20):
        assert interlocks.judge(silent, second).active == ()
        assert interlocks.judge(CALM, second + 0.9).active == ()


def test_the_worst_response_wins_the_blocks_add_up_and_the_first_reason_survives(demo_site: Site) -> None:
    interlocks = Interlocks(demo_site.rig)
    interlocks.judge(with_panel(selector=Selector.HAND), 0.0)
    both = interlocks.judge(with_panel(selector=Selector.HAND, estop_ok=False), 1.0)
    assert both.response is Response.ABORT
    assert both.worst is ROW_OF[Cause.ESTOP]
    assert both.blocked == frozenset(Output)
    assert interlocks.first_out is Cause.SELECTOR_HAND


@pytest.mark.parametrize("row", TABLE, ids=lambda row: row.cause.name)
def test_every_row_tells_the_consequence_and_one_thing_to_do(row: Interlock) -> None:
    assert row.consequence.endswith(".")
    assert row.remedy.endswith(".")
    assert row.delay_s >= 0


def test_whatever_holds_or_worse_leaves_nothing_that_doses_or_fills_free() -> None:
    for row in TABLE:
        if row.response is not Response.NONE:
            assert {Output.FILL, Output.DOSE} <= row.blocks, row.cause
