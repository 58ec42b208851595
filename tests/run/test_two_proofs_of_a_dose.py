"""Where counts and scale contradict each other nothing is moved by itself: held, with a doubt over both."""

from __future__ import annotations

import pytest
from run_states import Bench
from test_weighed_doses import (
    CAN,
    KELP_SCALE,
    OTHER_SCALE,
    all_of,
    begun,
    dose,
    ran,
    resumed,
    rinse,
)

from controller.record.events import DoseIntent, DoseResult, Weighing
from controller.run.sequence import Command, RunState
from controller.run.situation import Cause
from controller.settings.values import Site

MISSING = [Cause.DOSE_MISSING.value]


def turned(bench: Bench, counts: int) -> Bench:
    if bench.scan.state is not RunState.RUNNING:
        bench.order(Command.START)
    for _ in range(8000):
        if bench.rig.board.motion.count_done >= counts:
            return bench
        bench.look(0.25)
    raise AssertionError(f"never came to {counts} counts")


def held(bench: Bench, added_g: float = 0.0) -> Bench:
    bench.order(Command.HOLD)
    bench.dwell(5.0, 0.5)
    stands_g = bench.rig.scales_g[KELP_SCALE]
    assert stands_g is not None
    bench.rig.scales_g[KELP_SCALE] = stands_g + added_g
    return bench


def laid_on(bench: Bench, scale: str, g: float) -> None:
    stands_g = bench.rig.scales_g[scale]
    assert stands_g is not None
    bench.rig.scales_g[scale] = stands_g + g


def counted_ml(bench: Bench) -> float:
    return sum(one.count_done * 0.05 for one in all_of(bench, DoseResult))


def assert_covers(bench: Bench, *amounts_ml: float) -> None:
    results = all_of(bench, DoseResult)
    ml, doubt_ml = sum(one.ml for one in results), sum(one.uncertainty_ml for one in results)
    assert all(abs(amount - ml) <= doubt_ml for amount in amounts_ml)


@pytest.mark.parametrize("g", [22.0, 60.0])
def test_a_thing_laid_on_the_scale_tops_nothing_up(demo_site: Site, g: float) -> None:
    bench = turned(begun(demo_site, dose(demo_site, 100.0)), 1000)
    laid_on(bench, KELP_SCALE, g)
    bench.dwell(90.0, 0.25)
    assert (bench.scan.state, bench.ledger.raised()) == (RunState.HELD, MISSING)
    assert_covers(bench, counted_ml(bench), counted_ml(bench) - g / 1.08)
    resumed(bench)
    assert bench.scan.state is RunState.COMPLETE
    assert len(all_of(bench, DoseIntent)) == 1


def test_a_blockage_that_came_free_is_held_with_both_amounts(demo_site: Site) -> None:
    bench = turned(begun(demo_site, dose(demo_site, 475.0, expected_s=200.0)), 5000)
    bench.rig.came_share = 0.0
    turned(bench, 6200)
    bench.rig.came_share = 1.0
    bench.dwell(150.0, 0.25)
    assert (bench.scan.state, bench.ledger.raised()) == (RunState.HELD, MISSING)
    assert_covers(bench, 475.0, 415.0)


def test_another_bottle_that_becomes_lighter_in_a_dose_is_told_after_it(demo_site: Site) -> None:
    bench = turned(begun(demo_site), 1000)
    laid_on(bench, OTHER_SCALE, -400.0)
    bench.dwell(60.0, 0.25)
    assert (bench.scan.state, bench.ledger.raised()) == (RunState.HELD, [Cause.DOSE_EXCESS.value])
    resumed(bench)
    assert bench.scan.state is RunState.COMPLETE


def test_a_tube_that_runs_back_in_the_rinse_before_its_dose_is_told(demo_site: Site) -> None:
    bench = turned(begun(demo_site, rinse(demo_site), dose(demo_site)), 500)
    laid_on(bench, KELP_SCALE, 40.0)
    bench.dwell(120.0, 0.25)
    assert (bench.scan.state, bench.ledger.raised()) == (RunState.HELD, MISSING)


def test_after_a_hold_a_bumped_scale_tops_nothing_up(demo_site: Site) -> None:
    bench = held(turned(begun(demo_site, dose(demo_site, 475.0, expected_s=300.0)), 2000))
    resumed(bench, 15.0)
    turned(bench, 6000)
    laid_on(bench, KELP_SCALE, 150.0)
    bench.dwell(150.0, 0.25)
    assert (bench.scan.state, bench.ledger.raised()) == (RunState.HELD, MISSING)
    assert_covers(bench, counted_ml(bench), counted_ml(bench) - 150.0 / 1.08)
    resumed(bench)
    assert len(all_of(bench, DoseIntent)) == 1


@pytest.mark.parametrize("held_before", [False, True])
@pytest.mark.parametrize("added_g", [75.0, 300.0])
def test_a_bottle_filled_while_it_was_to_be_weighed_again_moves_nothing_more(
    demo_site: Site, held_before: bool, added_g: float
) -> None:
    bench = begun(demo_site, dose(demo_site, 475.0, expected_s=300.0))
    if held_before:
        resumed(held(turned(bench, 3000)), 15.0)
    turned(bench, 9490)
    bench.dwell(3.0, 0.25)
    resumed(held(bench, added_g), 60.0)
    if bench.scan.state is RunState.HELD:
        resumed(bench)
    assert bench.scan.state is RunState.COMPLETE
    assert counted_ml(bench) == pytest.approx(475.0, abs=1.0)
    assert_covers(bench, 475.0)


def test_what_did_not_come_after_a_hold_is_no_share_of_what_came_before_it(demo_site: Site) -> None:
    bench = held(turned(begun(demo_site, dose(demo_site, 475.0, expected_s=300.0)), 6000))
    resumed(bench, 1.0)
    turned(bench, 6100)
    bench.rig.came_share = 0.0
    while bench.rig.board.motion.running:
        bench.look(0.25)
    bench.rig.scales_g[KELP_SCALE] = None
    bench.dwell(30.0, 0.25)
    (result,) = all_of(bench, DoseResult)
    assert result.ml >= 295.0
    assert_covers(bench, 305.0)


def test_of_a_bottle_touched_in_a_hold_no_weighing_is_made_up(demo_site: Site) -> None:
    bench = begun(demo_site, dose(demo_site, 300.0, expected_s=200.0))
    resumed(held(turned(bench, 3000), 700.0), 150.0)
    assert bench.scan.state is RunState.COMPLETE
    assert all_of(bench, Weighing) == []
    memory = bench.scan.memory
    assert memory is not None
    assert "kelp" not in memory.tubes
    assert all_of(bench, DoseResult)[0].basis == "counted"


def test_a_rinse_that_never_came_is_seen_though_a_hold_met_its_weighing(demo_site: Site) -> None:
    bench = begun(demo_site, rinse(demo_site))
    bench.rig.came_share = 0.0
    bench.order(Command.START)
    while len(all_of(bench, DoseResult)) < 3:
        bench.look(0.25)
    bench.dwell(2.0, 0.25)
    bench.order(Command.HOLD)
    bench.dwell(5.0, 0.5)
    bench.order(Command.RESTART)
    bench.dwell(30.0, 0.25)
    assert (bench.scan.state, bench.ledger.raised()) == (RunState.HELD, MISSING)


def test_a_can_touched_in_a_hold_is_rinsed_from_again(demo_site: Site) -> None:
    bench = ran(begun(demo_site, rinse(demo_site)), 12.0)
    bench.order(Command.HOLD)
    laid_on(bench, CAN, 3000.0)
    resumed(bench, 90.0)
    assert bench.scan.state is RunState.COMPLETE
    assert len(all_of(bench, DoseResult)) >= 4
    assert all_of(bench, Weighing) == []
