"""How much of its sweep a pump really moves: pace, thickness, level and blockage."""

import math
from dataclasses import replace

import pytest

from controller.measure.metering import pace_counts_per_s
from controller.plan.batch import plan_batch
from controller.plan.steps import Dose, Rinse
from controller.plan.tonight import tonight_from
from sim.pumping.condition import SOUND, Condition
from sim.pumping.dosing import Dosing
from sim.pumping.tubing import Tubing, resistance_pa_s_m3

THICK = Tubing(80.0, 0.7, 1800.0, 1.38)


def test_resistance_of_a_round_tube():
    # Water (1.002 mPa s) through 1 m of 1 mm: 8 mu L / (pi r^4) with r = 0.5 mm, by hand.
    assert resistance_pa_s_m3(1.002, 1.0, 1.0) == pytest.approx(4.083e10, rel=1e-3)


def test_the_bore_follows_from_content_and_length():
    assert math.pi / 4 * THICK.bore_mm**2 * 700.0 == pytest.approx(80_000.0)


def test_thin_liquids_fill_the_tube_at_any_pace():
    # For thin liquids viscosity had no significant effect: Batista et al. 2015 (medical pumps).
    for viscosity_mpa_s in (1.0, 5.0):
        share = Tubing(25.0, 0.7, viscosity_mpa_s).refilled_share(0.5, 60.0, SOUND)
        assert share == pytest.approx(1.0, abs=1e-6)


def test_speed_and_viscosity_count_as_their_product():
    once = THICK.refilled_share(0.5, 20.0, SOUND)
    assert Tubing(80.0, 0.7, 3600.0).refilled_share(0.5, 10.0, SOUND) == pytest.approx(once)
    assert THICK.refilled_share(0.5, 40.0, SOUND) < once


def test_no_pace_draws_more_than_a_vacuum_would():
    """Standard air is 101.3 kPa, and water at 20 deg C boils at 2.3 kPa: 99 kPa at the very most."""
    resistance = resistance_pa_s_m3(1800.0, 0.7, THICK.bore_mm)
    for lift_m in (0.0, 0.5, 2.0, 5.0):
        tubing = Tubing(80.0, 0.7, 1800.0, 1.38, lift_m)
        most_ml_s = max((99.0 - 1.38 * 9.81 * lift_m) * 1e3 / resistance * 1e6, 0.0)
        flows_ml_s = [0.5 * rate * tubing.refilled_share(0.5, rate, SOUND) for rate in (8.0, 80.0, 8000.0)]
        assert flows_ml_s == sorted(flows_ml_s)
        assert 0.1 * most_ml_s < flows_ml_s[-1] < most_ml_s
    assert Tubing(80.0, 0.7, 1800.0, 1.38, 8.0).refilled_share(0.5, 1.0, SOUND) == 0.0


def test_a_deep_bottle_fills_a_tube_more_slowly(demo_site, demo_world):
    deep = replace(demo_world, bottles=replace(demo_world.bottles, above_tank_m=-4.0))
    assert moved_share(demo_site, deep, 2, 67) < 0.99 < moved_share(demo_site, demo_world, 2, 67)


def pace_of(site, step):
    return pace_counts_per_s(site.rig.pumps[step.pump], step.rate_ml_min)


def moved_share(site, world, channel, counts_per_s):
    """What 4000 counts move at this pace, over what they move at one count a second."""
    fast, slow = (Dosing(site, world, seed=1) for _ in range(2))
    return fast.turn(channel, 4000, counts_per_s, 1).ml / slow.turn(channel, 4000, 1, 1).ml


def test_the_paces_of_the_plan_lose_less_than_half_a_percent(demo_site, demo_world):
    planned = plan_batch(demo_site, "fruiting", tonight_from(demo_site))
    steps = [step for step in planned.steps if isinstance(step, Dose | Rinse)]
    assert len({step.pump for step in steps}) >= 8
    for step in steps:
        channel = demo_site.rig.pumps[step.pump].channel
        assert moved_share(demo_site, demo_world, channel, pace_of(demo_site, step)) > 0.995, step.pump


@pytest.mark.parametrize(("times", "least", "most"), [(1, 0.0, 0.005), (2, 0.02, 0.2), (4, 0.1, 0.7)])
def test_the_thickest_input_falls_clearly_short_above_its_pace(demo_site, demo_world, times, least, most):
    molasses = demo_site.inputs["molasses"]
    pump = demo_site.rig.pumps[molasses.pump]
    pace = times * pace_counts_per_s(pump, molasses.max_ml_min)
    assert least <= 1.0 - moved_share(demo_site, demo_world, pump.channel, pace) < most


def test_a_falling_level_lowers_each_dose_a_little(demo_site, demo_world):
    # That flow falls with suction lift and a falling level: a pump maker's note, and from memory.
    dosing = Dosing(demo_site, demo_world, seed=1)
    full_ml = dosing.turn(1, 8000, 60, 1).ml
    dosing.bottles[1].stock.draw(7500.0)
    low_ml = dosing.turn(1, 8000, 60, 1).ml
    assert 0.002 < 1.0 - low_ml / full_ml < 0.02


def test_a_partial_blockage_lets_a_flow_past_but_no_more_than_its_pressure():
    narrow, thin_line = Condition(outlet_blocked=0.75), Tubing(25.0, 0.7, 1800.0, 1.38)
    past_ml_s = [ml_s * thin_line.let_out_share(ml_s, narrow) for ml_s in (0.1, 0.5, 1.0, 2.0, 4.0, 8.0)]
    assert past_ml_s[:3] == [0.1, 0.5, 1.0]
    assert past_ml_s[-2:] == pytest.approx([past_ml_s[-1]] * 2)
    assert past_ml_s[-1] < 2.0
    # A thin liquid does not feel it: a pump that shuts its tube pushes on.
    assert Tubing(25.0, 0.7).let_out_share(8.0, narrow) == 1.0


def test_a_blockage_before_the_pump_starves_it():
    shares = [
        THICK.refilled_share(0.5, 8.0, Condition(inlet_blocked=blocked)) for blocked in (0, 0.5, 0.8, 1)
    ]
    assert shares == sorted(shares, reverse=True)
    assert shares[0] > 0.99 > 0.9 > shares[1] > 0.3 > shares[2] > shares[3] == 0.0


@pytest.mark.parametrize("where", ["outlet_blocked", "inlet_blocked"])
def test_a_full_blockage_lets_nothing_through_while_the_motor_turns(demo_site, demo_world, where):
    dosing = Dosing(demo_site, demo_world, seed=1)
    dosing.condition[0] = Condition(**{where: 1.0})
    stood_ml = dosing.bottles[0].stock.volume_ml
    counts = dosing.pumps[0].counts
    assert dosing.turn(0, 400, 60, 1).ml == 0.0
    assert dosing.bottles[0].stock.volume_ml == stood_ml
    assert dosing.pumps[0].counts == counts + 400
