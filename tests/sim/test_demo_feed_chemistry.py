"""The demo site's own feeds in the simulated tank: where pH starts, what a trim takes, how it drifts.

The demo's composition is invented; these tests hold it to what makes the demo a fair trial of the controller.
"""

import math
from dataclasses import replace

import pytest

from controller.plan.by_hand_trim import FAR_PH, next_trim_ml
from sim.vessel.tank import Tank

RINSES_L = 1.5


def mixed(site, world, recipe_name):
    """Mix a recipe without its living inputs, as if every dose were perfect."""
    recipe, rig = site.recipes[recipe_name], site.rig
    tank = Tank(
        math.pi / 4.0 * rig.tank.diameter_m**2,
        rig.stir.nozzle_mm,
        world.room.temperature_c,
        world.room.cooling_hours,
    )
    doses = [(line.input, line.rate_ml_l * recipe.final_l) for line in recipe.additions]
    water_ml = recipe.final_l * 1e3 - sum(ml for _, ml in doses)
    tank.add(water_ml, world.supply.content(water_ml))
    for name, ml in doses:
        if not site.inputs[name].living:
            tank.add(ml, world.inputs[name].content(ml, 1.0, world.room.temperature_c))
            tank.advance(120.0, rig.stir.flow_l_min, False)
    living = [(name, ml) for name, ml in doses if site.inputs[name].living]
    return tank, living


def trim(tank, site, world, to_ph):
    """Add the demo's acid 2 mL at a time until the stirred tank is at `to_ph`; return mL."""
    acid = world.inputs["citric_acid"]
    total_ml = 0.0
    while tank.ph_true() > to_ph:
        tank.add(2.0, acid.content(2.0, 1.0, world.room.temperature_c))
        tank.advance(4.0, site.rig.stir.flow_l_min, False)
        total_ml += 2.0
    return total_ml


def test_the_supply_is_moderately_hard_bicarbonate_water(demo_site, demo_world):
    tank = Tank(0.28, 15.0, co2_ppm=demo_world.room.co2_ppm)
    tank.add(10_000.0, demo_world.supply.content(10_000.0))
    assert tank.ph_true() == pytest.approx(7.6, abs=0.1)
    assert 14.0 <= tank.temperature_c <= 18.0
    water = demo_world.supply.mmol_l
    alkalinity = 2 * (water[2] + water[3]) + water[0] + water[1] - water[5] - water[6] - 2 * water[7]
    assert alkalinity == pytest.approx(2.0, abs=0.1)


def test_the_fruiting_feed_needs_a_real_trim(demo_site, demo_world):
    tank, _ = mixed(demo_site, demo_world, "fruiting")
    assert 6.6 <= tank.ph_true() <= 7.4
    acid_ml = trim(tank, demo_site, demo_world, 6.05)
    # 100-300 mL of a 1 mol/L stock; the demo's citric acid holds 1.76 mmol/mL.
    assert 100.0 <= 1.76 * acid_ml <= 300.0
    # The night's cap on corrections leaves room for it.
    assert acid_ml < 0.5 * demo_site.policy.trim.cap_ml_l * 180.0


@pytest.mark.parametrize("recipe", ["fruiting", "young_plants"])
def test_the_rebound_of_ten_stirred_minutes_is_visible_and_small(demo_site, demo_world, recipe):
    tank, _ = mixed(demo_site, demo_world, recipe)
    trim(tank, demo_site, demo_world, 6.0)
    start = tank.ph_true()
    tank.advance(600.0, demo_site.rig.stir.flow_l_min, False)
    assert 0.02 < tank.ph_true() - start < 0.2


@pytest.mark.parametrize("recipe", ["fruiting", "young_plants"])
def test_a_feed_trimmed_to_the_middle_stays_in_its_window_over_the_keep(demo_site, demo_world, recipe):
    tank, living = mixed(demo_site, demo_world, recipe)
    trim(tank, demo_site, demo_world, 6.0)
    for name, ml in living:
        tank.add(ml, demo_world.inputs[name].content(ml, 1.0, 18.0))
    tank.advance(120.0, demo_site.rig.stir.flow_l_min, False)
    start = tank.ph_true()
    for _ in range(16):
        tank.advance(1740.0, 0.0, False)
        tank.advance(60.0, demo_site.rig.stir.flow_l_min, False)
    assert 0.03 < tank.ph_true() - start < 0.2
    assert tank.ph_true() < 6.3


def test_the_base_trim_raises_ph_only_after_a_wait(demo_site, demo_world):
    tank, _ = mixed(demo_site, demo_world, "fruiting")
    trim(tank, demo_site, demo_world, 5.5)
    start = tank.ph_true()
    limestone = demo_world.inputs["limestone_suspension"]
    tank.add(60.0, limestone.content(60.0, 1.0, 18.0))
    tank.advance(30.0, 60.0, False)
    at_once = tank.ph_true() - start
    tank.advance(3600.0, 60.0, False)
    assert at_once < 0.02
    assert tank.ph_true() - start > 0.05


@pytest.mark.parametrize("recipe", ["fruiting", "young_plants", "plain_flush"])
@pytest.mark.parametrize("hardness", [0.5, 1.0, 2.0])
def test_a_person_with_the_card_ends_in_the_window_within_its_limits(demo_site, demo_world, recipe, hardness):
    supply = replace(demo_world.supply, mmol_l=tuple(part * hardness for part in demo_world.supply.mmol_l))
    world = replace(demo_world, supply=supply)
    tank, _ = mixed(demo_site, world, recipe)
    policy, wanted = demo_site.policy.trim, demo_site.recipes[recipe]
    first_ml, cap_ml = policy.first_dose_ml_l * 180.0, policy.cap_ml_l * 180.0
    given_ml, doses = 0.0, 0
    while tank.ph_true() > wanted.ph_high and doses < policy.max_trims:
        far = tank.ph_true() > wanted.ph_high + FAR_PH
        dose_ml = next_trim_ml(given_ml, first_ml, cap_ml, far=far)
        tank.add(dose_ml, world.inputs["citric_acid"].content(dose_ml, 1.0, 18.0))
        tank.advance(360.0, demo_site.rig.stir.flow_l_min, False)
        given_ml, doses = given_ml + dose_ml, doses + 1
    assert wanted.ph_low <= tank.ph_true() <= wanted.ph_high
    assert doses > 1
    assert given_ml < cap_ml
