"""How well simulated pumps meter after a calibration by weight: bias and scatter of a sample of doses.

The whole table, over a thousand doses a volume, is printed by tests/bench/bench_metering.py.
"""

import pytest
from metered_nights import STRETCH, STRETCH_ML, after_many_nights, bars, measure
from metered_pumps import KINDS, PumpOnBench

from controller.measure.weighing import StillWeight, weighed_amount
from sim.world import load_world

FINE, SMALL, MIDDLE, THICK = KINDS
RUN_IN = ("run in", "half life", "near its end")


@pytest.fixture(scope="module")
def demo_world(demo_site):
    return load_world(demo_site)


def beyond(found):
    """Name every volume that is beyond its bars by more than chance."""
    return {
        ml: f"bias {one.bias_share:+.2%}, scatter {one.scatter_share:.2%} of {one.doses} doses"
        for ml, one in found.items()
        if one is not None and one.above(bars(ml))
    }


@pytest.mark.parametrize("tube", RUN_IN)
@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.name)
def test_from_its_floor_on_a_pump_keeps_the_bars_with_tubes_that_wear_on(demo_site, demo_world, kind, tube):
    """From 5 mL on 1 % of bias and 0.5 % of scatter, below 2 % and 1 %; its floor is among them."""
    found = measure(demo_site, demo_world, kind, tube, PumpOnBench.counted, pumps=30)
    given = [ml for ml, one in found.items() if one is not None]
    assert given == [ml for ml in kind.volumes_ml(demo_site) if ml >= kind.floor_ml(demo_site)]
    assert beyond(found) == {}


@pytest.mark.parametrize("tube", RUN_IN)
@pytest.mark.parametrize("kind", [MIDDLE, THICK], ids=lambda kind: kind.name)
def test_so_do_weighed_doses_of_pumps_for_additions(demo_site, demo_world, kind, tube):
    """Their `min_dose` of 6 mL and more keeps a top-up from answering to the noise of the scale."""
    found = measure(demo_site, demo_world, kind, tube, PumpOnBench.weighed, pumps=30)
    assert any(found.values())
    assert beyond(found) == {}


def test_volumes_below_a_pumps_floor_are_refused(demo_site, demo_world):
    refused = {}
    for kind in KINDS:
        found = measure(demo_site, demo_world, kind, "run in", PumpOnBench.counted, pumps=1)
        refused[kind.name] = [ml for ml, one in found.items() if one is None]
    assert refused == {
        "fine": [],
        "small": [1.0, 2.0, 5.0],
        "middle": [1.0, 2.0, 5.0, 10.0],
        "thick": [1.0, 2.0, 5.0, 10.0, 20.0],
    }


def test_a_tube_that_was_not_run_in_before_its_weighing_does_not_keep_them(demo_site, demo_world):
    """Its first counts cost it a percent: the reason to run a new tube before weighing it."""
    new, run_in = (
        measure(demo_site, demo_world, THICK, tube, PumpOnBench.counted, pumps=20, volumes_ml=[50.0, 500.0])
        for tube in ("not run in", "run in")
    )
    assert not new[500.0].within(bars(500.0))
    assert new[50.0].bias_share < 2.0 * run_in[50.0].bias_share < 0.0


@pytest.mark.parametrize("kind", [FINE, SMALL], ids=lambda kind: kind.name)
def test_ten_millilitres_on_a_platform_scale_miss_the_stretch(demo_site, demo_world, kind):
    """0.2 % of scatter is less than a dose's own 0.4 %, and the scale cannot see what is missing of it."""
    found = measure(demo_site, demo_world, kind, "half life", PumpOnBench.weighed, 20, [STRETCH_ML])
    assert found[STRETCH_ML].above(STRETCH)
    at_best = StillWeight(1000.0, 1.0 / 12**0.5), StillWeight(990.0, 1.0 / 12**0.5)
    assert weighed_amount(*at_best, density_kg_l=1.0).uncertainty_ml / 2.0 > 10 * STRETCH[1] * STRETCH_ML


def test_without_a_new_calibration_only_the_running_estimate_stays_true(demo_site, demo_world):
    """A hundred nights of 500 mL are a million counts: a tube then moves some 2 % less."""
    counted = after_many_nights(demo_site, demo_world, MIDDLE, PumpOnBench.counted, pumps=4, nights=100)
    weighed = after_many_nights(demo_site, demo_world, MIDDLE, PumpOnBench.weighed, pumps=4, nights=100)
    assert counted.above(bars(500.0))
    assert weighed.bias_share == pytest.approx(0.0, abs=0.005)


def test_for_45_nights_a_counted_tube_stays_within_a_percent(demo_site, demo_world):
    """So long the weighing of a pump holds that no scale checks."""
    counted = after_many_nights(demo_site, demo_world, MIDDLE, PumpOnBench.counted, pumps=10, nights=45)
    assert -0.01 < counted.bias_share < -0.006
