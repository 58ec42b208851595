"""The smallest doses that a pump can honestly meter, against every dose above them, angle by angle."""

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from small_site import pump, recipe, small_rig

from controller.measure.metering import counts_for, ml_for, whole_roller_ml
from controller.measure.pulsation import pulsation_sd_ml
from controller.plan.batch import PlanRefused, plan_batch
from controller.plan.dose_floor import dose_floor_ml, whole_roller_floor_ml
from controller.plan.findings import Rule
from controller.plan.tonight import tonight_from
from controller.settings.values import Pump

pumps = st.builds(
    Pump,
    name=st.just("any"),
    channel=st.just(0),
    ml_per_count=st.floats(1e-4, 0.1),
    counts_per_roller=st.integers(1, 400),
    max_ml_min=st.just(200.0),
    min_dose_ml=st.just(1e-9),
    night_cap_ml=st.just(1000.0),
    pulsation_share=st.one_of(st.none(), st.floats(0.001, 1.0)),
)


def bars(ml: float) -> tuple[float, float]:
    """What a dose may be off on the mean, and scatter by: what metering was asked for."""
    return (0.02, 0.01) if ml < 5.0 else (0.01, 0.005)


@given(pump=pumps, times=st.floats(1.0, 50.0))
def test_from_the_floor_on_every_dose_is_within_the_bars_for_its_size(pump, times):
    """Scatter by start angle repeatability and weighing; bias by rounding and half a drop."""
    ml = dose_floor_ml(pump) * times
    counts = counts_for(pump, ml)
    most_bias, most_scatter = bars(ml)
    assert math.hypot(pulsation_sd_ml(pump, counts) / ml, 0.004, 0.0015) <= most_scatter * (1.0 + 1e-9)
    assert abs(ml_for(pump, counts) - ml) + 0.025 / math.sqrt(3.0) <= most_bias * ml


@given(pump=pumps)
def test_the_floor_of_a_coarse_pump_is_no_higher_than_its_worst_dose_needs(pump):
    """A little below it, half-way between two rollers, the root of both errors is above a bar."""
    floor_ml = dose_floor_ml(pump)
    share = 0.25 if pump.pulsation_share is None else pump.pulsation_share
    roller_ml = pump.counts_per_roller * pump.ml_per_count
    nearest_ml = math.hypot(pump.ml_per_count / 2, share / 2 * math.sqrt(2.0) * roller_ml)
    most_bias, most_scatter = bars(floor_ml if floor_ml > 5.0 else 0.0)
    left_ml = 0.99 * floor_ml * math.sqrt(most_scatter**2 - 0.004**2 - 0.0015**2)
    worst_ml = min(nearest_ml, roller_ml / 2)
    assert worst_ml > left_ml or worst_ml + 0.0145 > 0.99 * floor_ml * most_bias


@given(pump=pumps, times=st.floats(1.0, 50.0))
def test_from_the_floor_of_whole_rollers_on_they_are_good_and_counted_as_asked(pump, times):
    ml = whole_roller_ml(pump, whole_roller_floor_ml(pump) * times)
    counts = counts_for(pump, ml)
    assert counts % pump.counts_per_roller == 0
    assert ml_for(pump, counts) == pytest.approx(ml)
    assert pulsation_sd_ml(pump, counts) == pytest.approx(0.0, abs=1e-12)
    assert 0.025 / math.sqrt(3.0) <= 0.02 * ml


@pytest.mark.parametrize(
    ("roller_ml", "floor_ml"), [(0.04, 0.95), (0.16, 6.8), (0.32, 13.7), (0.40, 17.1), (0.48, 20.5)]
)
def test_the_floors_of_pumps_of_the_trade_in_figures(roller_ml, floor_ml):
    """Half a count of rounding and 13 % of a roller over the root of 2, over the 0.26 % that are left."""
    of_it = pump("p", 0, ml_per_count=roller_ml / 8, counts_per_roller=8, pulsation_share=0.13)
    assert dose_floor_ml(of_it) == pytest.approx(floor_ml, rel=0.01)


def test_the_floor_of_whole_rollers_in_figures():
    """Half a drop of 0.05 mL, taken as even, is 0.0144 mL; over 2 % that is 0.72 mL: five rollers."""
    fine = pump("fine", 0, ml_per_count=0.02, counts_per_roller=8, pulsation_share=0.13)
    assert whole_roller_floor_ml(fine) == pytest.approx(0.8)


def test_a_pump_that_nobody_measured_has_a_higher_floor():
    measured = pump("p", 0, ml_per_count=0.05, counts_per_roller=8, pulsation_share=0.13)
    assert dose_floor_ml(replace(measured, pulsation_share=None)) > 1.5 * dose_floor_ml(measured)


def warned(site):
    plan = plan_batch(site, "feed", tonight_from(site))
    return [warning.text for warning in plan.warnings if warning.rule == Rule.SMALLEST_DOSE]


def rig_with(**changes):
    rig = small_rig()
    return replace(rig, pumps={**rig.pumps, "p8": pump("p8", rig.pumps["p8"].channel, **changes)})


def refused(site):
    with pytest.raises(PlanRefused) as caught:
        plan_batch(site, "feed", tonight_from(site))
    return [refusal.line() for refusal in caught.value.faults]


def test_a_planned_addition_below_the_floor_is_refused_and_one_above_is_not(small_site):
    """360 mL of kelp; 5 mL a roller are metered well from 341 mL on at 25 % of pulsation."""
    coarse = {"ml_per_count": 0.05, "counts_per_roller": 100, "min_dose_ml": 5.0}
    assert warned(small_site(recipe(("kelp", 2)), rig=rig_with(**coarse, pulsation_share=0.25))) == []
    (text,) = refused(small_site(recipe(("kelp", 2)), rig=rig_with(**coarse, pulsation_share=0.30)))
    assert text.startswith("kelp on pump p8: 360 mL, and from 408 mL on it meters within 1 %")
    assert "5 mL a roller, pulsation 30 %" in text


def test_a_smallest_dose_below_the_floor_of_whole_rollers_is_questioned_with_its_key(small_site):
    fine = {"ml_per_count": 0.002, "pulsation_share": 0.13}
    (text,) = warned(small_site(recipe(("kelp", 2)), rig=rig_with(**fine, min_dose_ml=0.7)))
    assert "pumps.p8.min_dose is 0.7 mL, its floor 0.8 mL" in text
    assert warned(small_site(recipe(("kelp", 2)), rig=rig_with(**fine, min_dose_ml=0.8))) == []


def test_no_pump_of_the_demo_site_is_questioned(demo_site):
    for name in demo_site.recipes:
        plan = plan_batch(demo_site, name, tonight_from(demo_site))
        assert [warning.text for warning in plan.warnings if warning.rule == Rule.SMALLEST_DOSE] == []
