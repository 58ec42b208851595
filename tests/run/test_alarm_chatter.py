"""Whatever chatters: at most three alarms from one root cause, never ten in ten minutes; the action at once.

Ten alarms in ten minutes are a flood by ISA-18.2 / IEC 62682; three from one root cause is this rig's own
limit. Every contact and reading is made to flicker at the scan's own rate, 20 times a second, and slower.
"""

from __future__ import annotations

import random
from dataclasses import replace
from itertools import combinations, pairwise

import pytest
from cause_drivers import BOOK
from fake_rig import BOOT_ID
from hypothesis import given
from hypothesis import strategies as st
from run_states import At, Bench
from test_matrix_cells import asked

from controller.plan.steps import StepKind
from controller.record.events import AlarmState
from controller.run.image import Selector
from controller.run.interlock_row import Output
from controller.run.interlock_table import ROW_OF
from controller.run.sequence import Command, RunState
from controller.run.situation import Cause
from controller.settings.load import demo_site_folder, load_site
from controller.settings.values import Site

INPUTS = (
    Cause.ESTOP,
    Cause.LEAK,
    Cause.HIGH_FLOAT,
    Cause.RUN_DRY,
    Cause.BOARD_SILENT,
    Cause.BOARD_TRIPPED,
    Cause.BOARD_RESTARTED,
    Cause.STALE_INPUT,
    Cause.ENABLE_LOST,
    Cause.RECORD_FAULT,
    Cause.SELECTOR_OFF,
    Cause.SELECTOR_HAND,
    Cause.SELECTOR_IMPOSSIBLE,
    Cause.LEVEL_LOST,
    Cause.FILL_DISAGREES,
    Cause.SUPPLY_FAILED,
    Cause.PUMP_STALLED,
    Cause.FOAM,
    Cause.VALVE_LEAKS_BY,
)
# A flood by ISA-18.2 / IEC 62682: ten or more alarms in ten minutes for one operator.
FLOOD, FLOOD_WITHIN_S = 10, 600.0
KINDS = (StepKind.FILL, StepKind.DOSE, StepKind.MIX, StepKind.SETTLE, StepKind.KEEP)


def most_within(times_s: list[float], within_s: float) -> int:
    return max((sum(1 for t in times_s if start <= t < start + within_s) for start in times_s), default=0)


def flick(bench: Bench, cause: Cause, on: bool) -> None:
    """Bring about one cause or take it back; a board that starts anew tells another boot id."""
    if cause is Cause.BOARD_RESTARTED:
        bench.rig.board = replace(bench.rig.board, boot_id=BOOT_ID + (1 if on else 0))
    else:
        (BOOK[cause].on if on else BOOK[cause].off)(bench)


def chatter(bench: Bench, causes: tuple[Cause, ...], seconds: float, chance: random.Random) -> None:
    """Let inputs flicker at 20 Hz; check in every scan that what stands is blocked."""
    for _ in range(round(seconds / 0.05)):
        for cause in causes:
            flick(bench, cause, chance.random() < 0.5)
        snapshot = bench.look(0.05)
        blocked = {output for active in snapshot.active for output in ROW_OF[active].blocks}
        assert asked(snapshot.outputs) & blocked == set()


def raised_at(bench: Bench) -> list[float]:
    return [at_s for at_s, _ in bench.ledger.alarms(AlarmState.RAISED)]


@pytest.mark.parametrize("cause", INPUTS, ids=lambda cause: cause.name)
def test_one_input_that_chatters_at_20_hz_is_told_at_most_three_times(demo_site: Site, cause: Cause) -> None:
    for place, kind in enumerate(KINDS):
        bench = Bench(demo_site)
        bench.enter(At(RunState.RUNNING, kind))
        chatter(bench, (cause,), 40.0, random.Random(place))
        assert len(bench.ledger.raised()) <= 3, (kind, bench.ledger.raised())
        assert len(bench.ledger.alarms()) <= 8, "the record is not flooded either"


@pytest.mark.parametrize("period_s", [3.0, 11.0, 61.0, 299.0])
@pytest.mark.parametrize("cause", INPUTS, ids=lambda cause: cause.name)
def test_one_input_that_comes_and_goes_slowly_is_told_at_most_three_times_in_an_hour(
    demo_site: Site, cause: Cause, period_s: float
) -> None:
    bench = Bench(demo_site)
    bench.enter(At(RunState.RUNNING, StepKind.MIX))
    for _ in range(round(3600 / period_s / 2)):
        flick(bench, cause, True)
        bench.dwell(period_s, period_s / 2)
        flick(bench, cause, False)
        bench.scan.acknowledge("tester")
        bench.dwell(period_s, period_s / 2)
    assert len(bench.ledger.raised()) <= 3, bench.ledger.raised()


@pytest.mark.parametrize(
    ("one", "other"), random.Random(7).sample(list(combinations(INPUTS, 2)), 40), ids=lambda cause: cause.name
)
def test_two_inputs_that_chatter_are_no_flood(demo_site: Site, one: Cause, other: Cause) -> None:
    chance = random.Random(f"{one.name} {other.name}")
    bench = Bench(demo_site)
    bench.enter(At(RunState.RUNNING, chance.choice(KINDS)))
    chatter(bench, (one, other), 20.0, chance)
    assert len(bench.ledger.raised()) <= 6, bench.ledger.raised()


def test_a_selector_turned_to_and_fro_is_one_root_with_three_alarms_at_most(demo_site: Site) -> None:
    bench, chance = Bench(demo_site), random.Random(11)
    bench.enter(At(RunState.RUNNING, StepKind.MIX))
    for _ in range(400):
        bench.rig.panel = replace(bench.rig.panel, selector=chance.choice(list(Selector)))
        bench.look(chance.choice([0.05, 1.0, 20.0]))
    assert len(bench.ledger.raised()) == 3


def test_a_board_that_hangs_falls_silent_and_restarts_is_told_three_times(demo_site: Site) -> None:
    bench = Bench(demo_site)
    bench.enter(At(RunState.RUNNING, StepKind.DOSE))
    BOOK[Cause.STALE_INPUT].on(bench)
    bench.dwell(5.0)
    bench.rig.board_answers = False
    bench.dwell(20.0)
    flick(bench, Cause.BOARD_RESTARTED, True)
    bench.rig.board_answers = bench.rig.clock_runs = True
    bench.dwell(20.0, 0.5)
    assert bench.ledger.raised() == ["readings stand still", "board silent", "board restarted"]
    bench.dwell(3700.0, 10.0)
    assert bench.scan.state is RunState.STOPPED
    assert len(bench.ledger.raised()) == 3
    (silent,) = [event for _, event in bench.ledger.alarms(AlarmState.SUPPRESSED)]
    assert silent.alarm == "held too long"
    assert "3 alarms of one root (readings stand still) have been told" in silent.text


def test_an_input_that_chatters_is_told_again_only_after_it_has_been_still(demo_site: Site) -> None:
    bench = Bench(demo_site)
    bench.enter(At(RunState.RUNNING, StepKind.MIX))
    for _ in range(6):
        BOOK[Cause.SELECTOR_OFF].on(bench)
        bench.dwell(15.0)
        BOOK[Cause.SELECTOR_OFF].off(bench)
        bench.dwell(15.0)
    told = [event for _, event in bench.ledger.alarms(AlarmState.RAISED)]
    assert len(told) == 2
    assert "It comes and goes" not in told[0].text
    assert told[1].text.startswith("It comes and goes")
    bench.scan.acknowledge("tester")
    bench.dwell(700.0, 10.0)
    assert bench.scan.snapshot is not None
    assert bench.scan.snapshot.alarms == ()
    BOOK[Cause.SELECTOR_OFF].on(bench)
    bench.dwell(2.0)
    assert len(bench.ledger.raised()) == 3


def test_a_restart_by_a_person_makes_the_next_alarm_a_new_one(demo_site: Site) -> None:
    bench = Bench(demo_site)
    bench.enter(At(RunState.RUNNING, StepKind.DOSE))
    for told in range(1, 5):
        BOOK[Cause.PUMP_STALLED].on(bench)
        # After a hold the bottle is weighed anew before its pump is told to turn.
        bench.dwell(12.0, 0.5)
        assert len(bench.ledger.raised()) == told
        BOOK[Cause.PUMP_STALLED].off(bench)
        bench.scan.acknowledge("tester")
        bench.dwell(2.0)
        bench.scan.order(Command.RESTART, "tester")
        bench.dwell(3.0)
        assert bench.scan.state is RunState.RUNNING


def test_everything_at_once_is_no_flood_and_everything_is_off(demo_site: Site) -> None:
    bench = Bench(demo_site)
    bench.enter(At(RunState.RUNNING, StepKind.DOSE))
    for cause in Cause:
        BOOK[cause].on(bench)
        bench.look(1.0)
    bench.dwell(900.0, 5.0)
    assert most_within(raised_at(bench), FLOOD_WITHIN_S) < FLOOD
    assert asked(bench.rig.written[-1]) == set()
    suppressed = {event.alarm for _, event in bench.ledger.alarms(AlarmState.SUPPRESSED)}
    assert bench.scan.snapshot is not None
    standing = {cause.value for cause in bench.scan.snapshot.active if ROW_OF[cause].is_alarm}
    assert standing <= suppressed | set(bench.ledger.raised()), (
        "what is not told is on record with its reason"
    )


FLICKER = st.lists(
    st.tuples(st.sampled_from(INPUTS), st.booleans(), st.sampled_from([0.05, 0.05, 0.5, 3.0, 12.0, 70.0])),
    min_size=20,
    max_size=150,
)
SITE = load_site(demo_site_folder())


@given(flicker=FLICKER, kind=st.sampled_from(KINDS), people=st.integers(0, 9))
def test_any_chatter_of_any_inputs_and_people_is_never_a_flood_and_never_delays_an_action(
    flicker: list[tuple[Cause, bool, float]], kind: StepKind, people: int
) -> None:
    bench = Bench(SITE)
    bench.enter(At(RunState.RUNNING, kind))
    for place, (cause, on, wait_s) in enumerate(flicker):
        flick(bench, cause, on)
        if people and place % 10 == people:
            bench.scan.acknowledge("tester")
            bench.scan.order(Command.RESTART, "tester")
        snapshot = bench.look(wait_s)
        blocked = {output for active in snapshot.active for output in ROW_OF[active].blocks}
        assert asked(snapshot.outputs) & blocked == set()
        if cause is Cause.ESTOP and on:
            assert Cause.ESTOP in snapshot.active
            assert asked(snapshot.outputs) == set()
    assert most_within(raised_at(bench), FLOOD_WITHIN_S) < FLOOD
    times_s = raised_at(bench)
    assert all(earlier <= later for earlier, later in pairwise(times_s))


def test_no_silence_of_an_alarm_delays_or_softens_the_action(demo_site: Site) -> None:
    """Shelved, chattering, behind its root, over its budget: the outputs go off in the same scan."""
    bench = Bench(demo_site)
    bench.enter(At(RunState.RUNNING, StepKind.MIX))
    bench.scan.shelve(Cause.SELECTOR_OFF, "tester", 600.0)
    bench.look()
    for _ in range(12):
        assert asked(bench.rig.written[-1]) >= {Output.STIR}
        BOOK[Cause.SELECTOR_OFF].on(bench)
        snapshot = bench.look()
        assert snapshot.state is RunState.HOLDING
        assert asked(snapshot.outputs) == set()
        bench.look()
        BOOK[Cause.SELECTOR_OFF].off(bench)
        bench.dwell(1.0, 0.25)
        bench.scan.order(Command.RESTART, "tester")
        bench.dwell(1.0, 0.25)
    assert bench.ledger.raised() == []
