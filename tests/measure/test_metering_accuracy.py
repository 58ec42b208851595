"""How well simulated pumps meter after a calibration by weight: bias and scatter of a sample of doses.

The whole table, over a thousand doses a volume, is printed by tests/bench/bench_metering.py.
"""

import pytest
from metered_pumps import KINDS, PumpOnBench, after_many_nights, measure

from sim.world import load_world

FINE, SMALL, MIDDLE, THICK = KINDS
WORN = ("run in", "near its end")


@pytest.fixture(scope="module")
def demo_world(demo_site):
    return load_world(demo_site)


def told(found, kind):
    """Name what misses its bars."""
    return {
        ml: f"bias {one.bias_share:+.2%}, scatter {one.scatter_share:.2%} of {one.doses} doses"
        for ml, one in found.items()
        if one is not None and not one.within(kind.bars(ml), sample=True)
    }


@pytest.mark.parametrize("tube", WORN)
@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.name)
def test_counted_doses_keep_their_bars_with_worn_tubes_that_wear_on(demo_site, demo_world, kind, tube):
    """From 5 mL on 1 % of bias and 0.5 % of scatter; 2 % and 1 % below, and for less than thirty rollers."""
    assert told(measure(demo_site, demo_world, kind, tube, PumpOnBench.counted, pumps=15), kind) == {}


@pytest.mark.parametrize("kind", [SMALL, MIDDLE], ids=lambda kind: kind.name)
def test_so_do_doses_by_the_running_estimate_of_a_weighed_tube(demo_site, demo_world, kind):
    assert told(measure(demo_site, demo_world, kind, "run in", PumpOnBench.estimated, pumps=10), kind) == {}


def test_volumes_below_a_pumps_floor_are_refused_and_every_volume_has_a_pump(demo_site, demo_world):
    given = {}
    for kind in KINDS:
        found = measure(demo_site, demo_world, kind, "run in", PumpOnBench.counted, pumps=1)
        given[kind.name] = {ml for ml, one in found.items() if one is not None}
    assert given == {
        "fine": {1.0, 2.0, 5.0, 10.0, 20.0},
        "small": {5.0, 10.0, 20.0, 50.0, 100.0},
        "middle": {10.0, 20.0, 50.0, 100.0, 500.0},
        "thick": {10.0, 20.0, 50.0, 100.0, 500.0},
    }


@pytest.mark.parametrize("kind", [FINE, SMALL], ids=lambda kind: kind.name)
def test_ten_millilitres_weighed_on_a_fine_balance_and_topped_up_are_good_to_the_stretch(
    demo_site, demo_world, kind
):
    """0.6 % of bias and 0.2 % of scatter; a dose that is only counted keeps its own random error."""
    topped, counted = (
        measure(demo_site, demo_world, kind, "half life", way, pumps=15, volumes_ml=[10.0])[10.0]
        for way in (PumpOnBench.topped_up, PumpOnBench.counted)
    )
    assert topped.within((0.006, 0.002), sample=True)
    assert counted.scatter_share > 1.5 * topped.scatter_share


def test_without_a_new_calibration_only_the_running_estimate_stays_true(demo_site, demo_world):
    """A hundred nights of 500 mL are a million counts: a tube then moves some 2 % less."""
    counted = after_many_nights(demo_site, demo_world, MIDDLE, PumpOnBench.counted, pumps=4, nights=100)
    estimated = after_many_nights(demo_site, demo_world, MIDDLE, PumpOnBench.estimated, pumps=4, nights=100)
    assert counted.bias_share < -0.012
    assert estimated.within((0.005, 0.006))


def test_a_tube_that_was_weighed_in_before_it_was_run_in_is_off_by_more_than_twice_as_much(
    demo_site, demo_world
):
    """Its first counts cost it more than a percent: the reason to run a new tube before weighing it."""
    new, run_in = (
        measure(demo_site, demo_world, THICK, tube, PumpOnBench.counted, pumps=10, volumes_ml=[20.0, 500.0])
        for tube in ("not run in", "run in")
    )
    assert new[20.0].bias_share < 2.0 * run_in[20.0].bias_share < 0.0
