"""Local beats remote, and no order outlives the cause that refused it, whoever gave it.

The wall decides (the project's own law); what a refusal says is read by people.
"""

from __future__ import annotations

import pytest
from cause_drivers import BOOK, panel
from run_states import BY, At, Bench, step_of
from test_matrix_cells import asked
from test_nothing_restarts import acts, watch_nothing_happen

from controller.plan.steps import StepKind
from controller.run.image import Selector
from controller.run.interlock_row import Output
from controller.run.sequence import Command, RunState
from controller.run.situation import Cause
from controller.settings.values import Site

POSITIONS = {
    Selector.OFF: "refused: selector off",
    Selector.HAND: "refused: selector in hand",
    Selector.IMPOSSIBLE: "refused: selector contradicts itself",
}
FROM = ("phone", "schedule", "controller", "operator", "wall button")


@pytest.mark.parametrize("who", FROM)
@pytest.mark.parametrize("position", POSITIONS, ids=lambda position: position.value)
def test_local_beats_remote(demo_site: Site, position: Selector, who: str) -> None:
    """No name that an order carries makes it stronger than the selector."""
    held, laid = Bench(demo_site), Bench(demo_site)
    held.enter(At(RunState.HELD))
    laid.load(step_of(StepKind.MIX, demo_site, 113.0))
    for bench, command in ((held, Command.RESTART), (laid, Command.START)):
        panel(selector=position)(bench)
        state = bench.scan.state
        for _ in range(3):
            bench.scan.order(command, who)
            snapshot = bench.look(0.5)
            assert snapshot.state is state
            assert asked(snapshot.outputs) <= {Output.STIR}
        assert acts(bench, who) == [(command.value, POSITIONS[position])] * 3
        panel(selector=Selector.AUTO)(bench)
        assert watch_nothing_happen(bench).state is state


@pytest.mark.parametrize("who", FROM)
@pytest.mark.parametrize("command", [c for c in Command if c is not Command.DONE], ids=lambda c: c.value)
@pytest.mark.parametrize("at", [At(s) for s in BY] + [At(RunState.IDLE), At(RunState.RUNNING)], ids=str)
def test_an_order_does_the_same_whoever_gives_it(demo_site: Site, at: At, command: Command, who: str) -> None:
    """The model check lets one person stand for all: this is why it may."""
    became: list[RunState] = []
    for name in (who, "tester"):
        bench = Bench(demo_site)
        bench.enter(at)
        bench.scan.order(command, name)
        became.append(bench.look().state)
    assert became[0] is became[1]


@pytest.mark.parametrize("cause", [Cause.SELECTOR_OFF, Cause.BOARD_SILENT], ids=lambda cause: cause.name)
def test_orders_that_came_in_one_moment_with_the_event_do_not_outlive_it(
    demo_site: Site, cause: Cause
) -> None:
    """Several at once are looked at one a scan; none of them waits for the cause to go."""
    bench = Bench(demo_site)
    bench.enter(At(RunState.HELD))
    BOOK[cause].on(bench)
    bench.dwell(2.0, 0.5)
    for _ in range(5):
        bench.scan.order(Command.RESTART, "hasty")
    bench.look()
    BOOK[cause].off(bench)
    assert watch_nothing_happen(bench).state is RunState.HELD
    assert acts(bench, "hasty") == [("restart", f"refused: {cause.value}")] * 5


@pytest.mark.parametrize("at", [At(RunState.RUNNING, kind) for kind in StepKind], ids=str)
def test_an_order_that_waited_through_a_trip_is_not_taken_after_it(demo_site: Site, at: At) -> None:
    """A trip takes its scan whole; what was ordered in that scan meets a batch that is being held."""
    bench = Bench(demo_site)
    bench.enter(at)
    panel(selector=Selector.OFF)(bench)
    for command in (Command.RESTART, Command.START, Command.RESTART):
        bench.scan.order(command, "hasty")
    assert bench.look().state is RunState.HOLDING
    panel(selector=Selector.AUTO)(bench)
    assert watch_nothing_happen(bench).state is RunState.HELD
    assert {answer.split(":")[0] for _, answer in acts(bench, "hasty")} == {"refused"}
