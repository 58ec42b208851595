"""How fast a dose may go, what limits it, and what is told of thick liquids."""

import math
from dataclasses import replace

import pytest
from small_site import INPUTS, pump, recipe, small_rig

from controller.cli.plan_view import dosing_row
from controller.plan.as_json import plan_as_json
from controller.plan.batch import plan_batch
from controller.plan.findings import Rule
from controller.plan.pace import PaceLimit, dose_pace, refill_ml_min
from controller.plan.steps import Dose
from controller.plan.tonight import tonight_from
from sim.pumping.condition import SOUND
from sim.pumping.tubing import Tubing

KELP = next(one for one in INPUTS if one.name == "kelp")


def planned(site):
    return plan_batch(site, "feed", tonight_from(site))


def told(plan):
    return [warning.text for warning in plan.warnings if warning.rule == Rule.THICK]


def thick(small_site, viscosity_mpa_s, **changes):
    inputs = [replace(one, viscosity_mpa_s=viscosity_mpa_s) if one.name == "kelp" else one for one in INPUTS]
    rig = small_rig()
    rig = replace(rig, pumps={**rig.pumps, "p8": pump("p8", rig.pumps["p8"].channel, **changes)})
    return small_site(recipe(("kelp", 2)), inputs=inputs, rig=rig)


def test_friction_of_a_suction_tube_by_hand():
    """8 mm and 1 m at 1000 mPa s: 128 x 1 x 1 / (pi 0.008^4) = 9.947e9 Pa s/m3; 10 kPa drive 60.3 mL/min."""
    liquid = replace(KELP, viscosity_mpa_s=1000.0)
    assert refill_ml_min(liquid, pump("p", 0)) == pytest.approx(60.32, rel=1e-3)
    half = pump("p", 0, suction_bore_mm=4.0, suction_m=0.5)
    assert refill_ml_min(liquid, half) == pytest.approx(60.32 / 8.0, rel=1e-3)


def test_the_slowest_of_the_four_limits_holds_and_is_named(small_site):
    site = thick(small_site, 10.0)
    p8, kelp = site.rig.pumps["p8"], site.inputs["kelp"]
    carrier_ml_min = site.rig.stir.flow_l_min * 1000.0 / site.policy.mixing.injection_dilution
    cases = [
        (kelp, p8, PaceLimit.INPUT, 150.0),
        (replace(kelp, max_ml_min=500.0), p8, PaceLimit.PUMP, 200.0),
        (
            replace(kelp, max_ml_min=1e6),
            replace(p8, max_ml_min=1e6, suction_bore_mm=50.0),
            PaceLimit.CARRIER,
            carrier_ml_min,
        ),
        (replace(kelp, viscosity_mpa_s=1000.0), p8, PaceLimit.THICKNESS, 60.32),
    ]
    for liquid, head, limit, ml_min in cases:
        pace = dose_pace(site, liquid, head)
        assert (pace.limit, pace.ml_min) == (limit, pytest.approx(ml_min, rel=1e-3))


def test_a_thick_liquid_is_dosed_at_the_pace_of_its_tube_and_the_plan_says_so(small_site):
    plan = planned(thick(small_site, 1000.0))
    (dose,) = [step for step in plan.steps if isinstance(step, Dose)]
    assert dose.rate_ml_min == plan.additions[0].dose_ml_min == pytest.approx(60.32, rel=1e-3)
    assert dose.expected_s == pytest.approx(360.0 / 60.32 * 60.0, rel=1e-3)
    assert plan.additions[0].pace_limit == "thickness"
    assert plan_as_json(plan)["additions"][0]["pace_limit"] == "thickness"
    assert dosing_row(plan.additions[0])[2:4] == ("60 mL/min", "thickness")
    (text,) = told(plan)
    assert "kelp (1000 mPa s) is dosed at 60.3 mL/min and not 150" in text
    assert "`pumps.p8.suction_bore`" in text


def test_with_the_tube_written_down_the_remedy_is_another_tube(small_site):
    (text,) = told(planned(thick(small_site, 1000.0, suction_bore_mm=8.0, suction_m=1.0)))
    assert "assumed" not in text
    assert "fit a wider or shorter tube" in text
    assert told(planned(thick(small_site, 1000.0, suction_bore_mm=12.0, suction_m=0.7))) == []


def test_a_thin_liquid_is_never_slowed_nor_told(small_site):
    plan = planned(thick(small_site, 5.0))
    assert plan.additions[0].pace_limit == "input's max"
    assert told(plan) == []


def test_what_is_too_thick_for_a_roller_pump_is_told(small_site):
    texts = told(planned(thick(small_site, 2500.0, suction_bore_mm=25.0, suction_m=0.5)))
    assert len(texts) == 1
    assert "2500 mPa s" in texts[0]


@pytest.mark.parametrize("viscosity_mpa_s", [60.0, 450.0, 1800.0, 5000.0])
@pytest.mark.parametrize(("bore_mm", "length_m"), [(6.7, 0.7), (12.0, 0.7), (8.0, 1.0)])
@pytest.mark.parametrize("roller_ml", [0.16, 0.48])
def test_at_that_pace_the_simulated_tube_refills_within_half_a_percent(
    viscosity_mpa_s, bore_mm, length_m, roller_ml
):
    """The simulator's tube is the outside measure: its physics is written apart from the plan's rule."""
    liquid = replace(KELP, viscosity_mpa_s=viscosity_mpa_s)
    ml_s = refill_ml_min(liquid, pump("p", 0, suction_bore_mm=bore_mm, suction_m=length_m)) / 60.0
    holdup_ml = math.pi / 4.0 * bore_mm**2 * length_m
    tube = Tubing(holdup_ml, length_m, viscosity_mpa_s, 1.4, lift_m=0.6)
    assert 1.0 - tube.refilled_share(roller_ml, ml_s / roller_ml, SOUND) < 0.005
    assert 1.0 - tube.refilled_share(roller_ml, 3.0 * ml_s / roller_ml, SOUND) > 0.005
