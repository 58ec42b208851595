"""Nothing restarts by itself: events that come and go in every state and every kind of step, on real scans.

IEC 60204-1: the reset of a stop, and the return of power, must not restart anything by themselves.
"""

from __future__ import annotations

from dataclasses import dataclass

import pytest
from cause_drivers import BOOK, Act, board, rig
from run_states import PLACES, At, Bench, step_of
from test_interlocks import MUST
from test_matrix_cells import COMES_FROM, STAYS_OFF, asked

from controller.plan.steps import StepKind
from controller.record.events import OperatorAct
from controller.run.image import BoardImage, Motion, Trip
from controller.run.interlock_row import Clear, Output
from controller.run.interlock_table import ROW_OF
from controller.run.scan import Scan
from controller.run.sequence import Command, RunState
from controller.run.situation import Cause
from controller.run.snapshot import Snapshot
from controller.settings.values import Site

LASTS_S = 4.0
WATCHED_SCANS = 40
STARTING = (Command.START, Command.RESTART)


def _board_off_and_on(bench: Bench) -> None:
    """Power goes and comes: another boot id, counts forgotten, disarmed and tripped until its local reset."""
    fresh = Motion(channel=0, dose_id=0, target_count=0, count_done=0, running=False)
    board(
        boot_id=bench.rig.board.boot_id + 1,
        motion=fresh,
        valve_open=False,
        open_id=0,
        trips=frozenset({Trip.MEMORY}),
        first_trip=Trip.MEMORY,
        enabled=False,
    )(bench)


@dataclass(frozen=True)
class Event:
    """What comes and goes, and the causes that it must be seen as."""

    name: str
    comes: Act
    goes: Act
    seen_as: frozenset[Cause]
    lasts_s: float = LASTS_S

    def __str__(self) -> str:
        return self.name


def of(name: str, cause: Cause, lasts_s: float = LASTS_S) -> Event:
    return Event(name, BOOK[cause].on, BOOK[cause].off, frozenset({cause}), lasts_s)


EVENTS = (
    of("emergency stop pressed and released", Cause.ESTOP),
    of("emergency stop open for two scans", Cause.ESTOP, 0.05),
    of("selector to off and back", Cause.SELECTOR_OFF),
    of("selector to off for two scans", Cause.SELECTOR_OFF, 0.05),
    of("selector to hand and back", Cause.SELECTOR_HAND),
    of("selector in two places and back", Cause.SELECTOR_IMPOSSIBLE),
    of("board silent and back", Cause.BOARD_SILENT),
    of("board's clock stops and runs on", Cause.STALE_INPUT),
    of("board trips and is reset", Cause.BOARD_TRIPPED),
    of("leak and dried", Cause.LEAK),
    of("high float up and down", Cause.HIGH_FLOAT),
    of("disk full and freed", Cause.RECORD_FAULT),
    Event(
        "board loses its power",
        _board_off_and_on,
        board(trips=frozenset(), first_trip=None, enabled=True),
        frozenset({Cause.BOARD_TRIPPED}),
    ),
    Event(
        "line cut, board restarted behind it",
        lambda bench: (_board_off_and_on(bench), rig(board_answers=False)(bench))[0],
        lambda bench: (
            rig(board_answers=True)(bench),
            board(trips=frozenset(), first_trip=None, enabled=True)(bench),
        )[0],
        frozenset({Cause.BOARD_SILENT}),
    ),
)
CELLS = [(event, at) for event in EVENTS for at in PLACES]


def come_to(bench: Bench, at: At) -> None:
    """Come to a state; in one that passes, the next scan is the first after it was entered."""
    if at.state not in COMES_FROM:
        bench.enter(at)
        bench.dwell(20.0, 2.0)
        return
    source, command = COMES_FROM[at.state]
    bench.enter(source)
    bench.dwell(20.0, 2.0)
    bench.order(command)
    assert bench.scan.state is at.state


def acts(bench: Bench, who: str) -> list[tuple[str, str]]:
    events = (event for _, event in bench.ledger.events)
    return [
        (event.act, event.answer) for event in events if isinstance(event, OperatorAct) and event.who == who
    ]


def watch_nothing_happen(bench: Bench) -> Snapshot:
    """Scan for a while, now in quick and now in slow succession: one state, everything off."""
    state = bench.look().state
    assert state in STAYS_OFF
    for scan in range(WATCHED_SCANS):
        snapshot = bench.look(0.05 if scan % 2 else 3.0)
        assert asked(snapshot.outputs) == set()
        assert snapshot.state is state
    return snapshot


@pytest.mark.parametrize(("event", "at"), CELLS, ids=str)
def test_what_comes_and_goes_restarts_nothing_until_a_fresh_order(
    demo_site: Site, event: Event, at: At
) -> None:
    bench = Bench(demo_site)
    come_to(bench, at)
    event.comes(bench)
    snapshot = bench.look()
    if event.lasts_s > 1.0:
        snapshot = bench.dwell(event.lasts_s, 0.25)
    assert event.seen_as <= set(snapshot.active), "it must be there before the hasty orders come"
    for command in STARTING:
        bench.scan.order(command, "hasty")
    snapshot = bench.look()
    assert asked(snapshot.outputs) <= ({Output.STIR} if event.seen_as == {Cause.SELECTOR_HAND} else set())
    answers = acts(bench, "hasty")
    assert [act for act, _ in answers] == ["start", "restart"]
    assert all(answer.startswith("refused: ") and len(answer) > 12 for _, answer in answers), answers
    event.goes(bench)
    quiet = watch_nothing_happen(bench)
    assert len(acts(bench, "hasty")) == 2, "a refused order was tried again"
    assert {cause for cause in event.seen_as if MUST[cause][1]} <= set(quiet.active), "a latch let go"
    only_a_fresh_order_goes_on(bench, quiet)


def only_a_fresh_order_goes_on(bench: Bench, quiet: Snapshot) -> None:
    """From HELD the acknowledged batch goes on when it is asked to; from an end nothing does."""
    latched = [cause for cause in quiet.active if ROW_OF[cause].clear is Clear.ACKNOWLEDGED]
    if latched:
        bench.order(Command.RESTART)
        assert bench.scan.state is quiet.state
        bench.scan.acknowledge("tester")
        bench.look()
        assert asked(bench.dwell(5.0).outputs) == set(), "an acknowledgement alone starts nothing"
        assert bench.scan.state is quiet.state
    bench.order(Command.RESTART)
    expected = RunState.RESTARTING if quiet.state is RunState.HELD else quiet.state
    assert bench.scan.state is expected
    if expected is RunState.RESTARTING:
        bench.look()
        assert bench.scan.state is RunState.RUNNING


@pytest.mark.parametrize("event", EVENTS, ids=str)
def test_a_start_given_under_a_cause_does_not_begin_the_batch_when_it_has_gone(
    demo_site: Site, event: Event
) -> None:
    bench = Bench(demo_site)
    bench.load(step_of(StepKind.MIX, demo_site, 113.0))
    bench.look()
    event.comes(bench)
    bench.dwell(event.lasts_s, min(0.5, event.lasts_s))
    assert bench.order(Command.START).state is RunState.IDLE
    event.goes(bench)
    assert watch_nothing_happen(bench).state is RunState.IDLE
    bench.scan.acknowledge("tester")
    bench.look()
    assert watch_nothing_happen(bench).state is RunState.IDLE
    assert bench.order(Command.START).state is RunState.RUNNING


@pytest.mark.parametrize("at", PLACES, ids=str)
def test_a_program_that_starts_again_leaves_everything_off_whatever_was_under_way(
    demo_site: Site, at: At
) -> None:
    """The new scan meets a board that still remembers the old motion and opening."""
    bench = Bench(demo_site)
    come_to(bench, at)
    before = len(bench.rig.written)
    bench.scan = Scan(demo_site, bench.rig, bench.ledger, lambda: bench.today)
    for command in (*STARTING, Command.RESET):
        bench.scan.order(command, "hasty")
    assert watch_nothing_happen(bench).state is RunState.IDLE
    assert all(asked(written) == set() for written in bench.rig.written[before:])
    assert acts(bench, "hasty") == [
        ("start", "refused: no plan is laid ready"),
        ("restart", "refused: idle knows no restart"),
        ("reset", "refused: idle knows no reset"),
    ]


def test_a_board_image_knows_no_more_than_these_tests_let_it_forget() -> None:
    """What the board keeps of a motion or an opening must be lost in `_board_off_and_on` too."""
    kept = {"motion", "valve_open", "open_id"}
    read = {"ph_mv", "ec_us_cm", "tank_c", "supply_c", "level_mm", "flow_pulses", "high_float", "leak"}
    read |= {"second_ph_mv", "scales_g"}
    state = {"boot_id", "uptime_ms", "trips", "first_trip", "enabled"}
    assert set(BoardImage.__dataclass_fields__) == kept | read | state
