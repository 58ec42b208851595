"""The smallest doses that a pump can honestly meter, against every dose above them, angle by angle."""

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from small_site import pump, recipe, small_rig

from controller.measure.metering import counts_for, ml_for, whole_roller_ml
from controller.measure.pulsation import pulsation_sd_ml
from controller.plan.batch import plan_batch
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


@given(pump=pumps, times=st.floats(1.0, 50.0))
def test_from_the_floor_on_no_dose_scatters_by_more_than_a_percent_or_is_off_by_two(pump, times):
    """Scatter by start angle with a repeatability of 0.5 %; bias by rounding and half a drop."""
    ml = dose_floor_ml(pump) * times
    counts = counts_for(pump, ml)
    assert math.hypot(pulsation_sd_ml(pump, counts) / ml, 0.005) <= 0.01 * (1.0 + 1e-9)
    assert abs(ml_for(pump, counts) - ml) + 0.025 / math.sqrt(3.0) <= 0.02 * ml


@given(pump=pumps, times=st.floats(1.0, 50.0))
def test_from_the_floor_of_whole_rollers_on_they_are_good_and_counted_as_asked(pump, times):
    ml = whole_roller_ml(pump, whole_roller_floor_ml(pump) * times)
    counts = counts_for(pump, ml)
    assert counts % pump.counts_per_roller == 0
    assert ml_for(pump, counts) == pytest.approx(ml)
    assert pulsation_sd_ml(pump, counts) == pytest.approx(0.0, abs=1e-12)
    assert 0.025 / math.sqrt(3.0) <= 0.02 * ml


def test_the_floor_of_a_fine_pump_in_figures():
    """0.02 mL a count, 8 counts a roller: 0.16 mL a roller; 13 % of it over the root of 2 is 0.0147 mL."""
    fine = pump("fine", 0, ml_per_count=0.02, counts_per_roller=8, pulsation_share=0.13)
    assert dose_floor_ml(fine) == pytest.approx(math.hypot(0.01, 0.0147) / 0.00866, rel=0.01)
    # Half a drop of 0.05 mL, taken as even, is 0.0144 mL; over 2 % that is 0.72 mL: five rollers.
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


def test_a_planned_dose_below_the_floor_is_questioned_and_one_above_is_not(small_site):
    """360 mL of kelp; 20 mL a roller with 18 % of pulsation are metered well from some 300 mL on."""
    coarse = {"ml_per_count": 0.2, "counts_per_roller": 100, "min_dose_ml": 350.0}
    assert warned(small_site(recipe(("kelp", 2)), rig=rig_with(**coarse, pulsation_share=0.18))) == []
    text, _ = warned(small_site(recipe(("kelp", 2)), rig=rig_with(**coarse, pulsation_share=0.25)))
    assert text.startswith("360 mL of kelp: pump p8 meters no less than 40")
    assert "20 mL a roller, pulsation 25 %" in text


def test_a_smallest_dose_below_the_floor_is_questioned_with_its_key(small_site):
    (text,) = warned(small_site(recipe(("kelp", 2)), rig=rig_with(pulsation_share=None)))
    assert "pumps.p8.min_dose is 1 mL, its floor 20.4 mL (1 mL a roller, pulsation 25 %, assumed)" in text
    assert warned(small_site(recipe(("kelp", 2)), rig=rig_with(pulsation_share=None, min_dose_ml=20.5))) == []


def test_no_pump_of_the_demo_site_is_questioned(demo_site):
    for name in demo_site.recipes:
        plan = plan_batch(demo_site, name, tonight_from(demo_site))
        assert [warning.text for warning in plan.warnings if warning.rule == Rule.SMALLEST_DOSE] == []
