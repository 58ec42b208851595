"""Bottles of the demo site on platform scales: gross weight, what a pump takes from it, what shakes it."""

from functools import partial

import pytest
from bare_sites import unweighed
from sensed_plant import run, sensed_plant

from sim.matter.ions import EXCESS
from sim.plant import Plant
from sim.true_instruments import TrueScales

EXACT = TrueScales(scale_noise_g=0.0, span_error=0.0, drift_g_k=0.0, vibration_g=0.0, creep_share=0.0)
EMPTY_G, PLATE_G = EXACT.tare_g, EXACT.platform_g
# By rig.toml: molasses and humate; fish, soapbark and citric; kelp and gypsum; the three others; rinse water.
SHELF_ONE, SHELF_TWO, SHELF_THREE, SHELF_FOUR, RINSE_CAN = range(5)


@pytest.fixture
def plant_with(demo_site, demo_world):
    return partial(sensed_plant, demo_site, demo_world)


def channel_of(site, name):
    return site.rig.pumps[site.inputs[name].pump].channel


def stands_g(site, *names):
    """Plate, empty bottles, and so many mL of each at the density of inputs.toml."""
    held_g = sum(site.inputs[name].stock_ml * site.inputs[name].density_kg_l for name in names)
    return PLATE_G + EMPTY_G * len(names) + held_g


def test_a_platform_weighs_all_that_rig_toml_puts_on_it(plant_with, demo_site):
    seen = plant_with(scales=EXACT).instruments
    assert seen.scale_g(SHELF_ONE, 0.0) == pytest.approx(
        stands_g(demo_site, "molasses", "potassium_humate"), rel=1e-6
    )
    four = ("rock_phosphate_suspension", "limestone_suspension", "compost_extract")
    assert seen.scale_g(SHELF_FOUR, 0.0) == pytest.approx(stands_g(demo_site, *four), rel=1e-6)
    assert seen.scale_g(RINSE_CAN, 0.0) == pytest.approx(PLATE_G + EMPTY_G + 20_000.0)
    assert seen.scale_g(5, 0.0) is None
    assert [seen.scales[line].name for line in seen.scales] == list(demo_site.rig.scales)


def test_each_bottle_of_a_platform_takes_its_own_weight_from_it(plant_with, demo_site, demo_world):
    plant = plant_with(scales=EXACT)
    for name in ("molasses", "potassium_humate"):
        channel, density = channel_of(demo_site, name), 1.0 + demo_world.inputs[name].dissolved_ml[EXCESS]
        assert density == pytest.approx(demo_site.inputs[name].density_kg_l)
        others_g = [plant.instruments.scale_g(line, 0.0) for line in range(1, 5)]
        before_g = plant.instruments.scale_g(SHELF_ONE, 0.0)
        stock = plant.dosing.bottles[channel].stock
        before_ml = stock.volume_ml
        plant.pump(channel, 2000, 60, dose_id=1)
        taken_ml = before_ml - stock.volume_ml
        assert taken_ml > 60.0
        assert before_g - plant.instruments.scale_g(SHELF_ONE, 0.0) == pytest.approx(density * taken_ml)
        assert [plant.instruments.scale_g(line, 0.0) for line in range(1, 5)] == others_g


def test_the_can_of_rinse_water_gets_lighter_with_every_rinse_until_it_is_empty(plant_with, demo_site):
    plant = plant_with(scales=EXACT)
    rinse = demo_site.rig.pumps["rinse_water"]
    before_g = plant.instruments.scale_g(RINSE_CAN, 0.0)
    rinsed_ml = sum(plant.pump(rinse.channel, 1000, 100, dose_id=number) for number in (1, 2))
    assert rinsed_ml == pytest.approx(120.0, rel=0.05)
    assert before_g - plant.instruments.scale_g(RINSE_CAN, 0.0) == pytest.approx(rinsed_ml)
    last_ml = plant.pump(rinse.channel, 400_000, 100, dose_id=3)
    assert rinsed_ml + last_ml == pytest.approx(20_000.0)
    assert plant.instruments.scale_g(RINSE_CAN, 0.0) == pytest.approx(PLATE_G + EMPTY_G)
    assert plant.pump(rinse.channel, 1000, 100, dose_id=4) == 0.0


def test_water_that_nothing_weighs_comes_from_a_can_as_well(demo_site, demo_world):
    plant = Plant(unweighed(demo_site), demo_world, seed=1)
    assert plant.instruments.scales == {}
    assert plant.pump(demo_site.rig.pumps["rinse_water"].channel, 1000, 100, dose_id=1) > 50.0


def test_a_settled_bottle_weighs_what_it_weighed_when_shaken(plant_with, demo_site):
    plant = plant_with(scales=EXACT)
    settled_g = plant.instruments.scale_g(SHELF_THREE, 0.0)
    assert settled_g == pytest.approx(stands_g(demo_site, "kelp_extract", "gypsum_suspension"), rel=1e-6)
    plant.agitators = frozenset({demo_site.inputs["gypsum_suspension"].agitator})
    run(plant, 120.0)
    assert plant.instruments.scale_g(SHELF_THREE, 120.0) == pytest.approx(settled_g, rel=1e-6)


def test_a_settled_bottle_loses_the_weight_of_the_sludge_that_is_drawn(plant_with, demo_site, demo_world):
    plant = plant_with(scales=EXACT)
    gypsum = channel_of(demo_site, "gypsum_suspension")
    before_g = plant.instruments.scale_g(SHELF_THREE, 0.0)
    sludge = plant.dosing.bottles[gypsum].stock.draw(300.0)
    assert sludge.solids_share > 2.0
    left = demo_world.inputs["gypsum_suspension"].content(300.0, sludge.solids_share, 20.0)
    taken_g = before_g - plant.instruments.scale_g(SHELF_THREE, 10.0)
    assert taken_g == pytest.approx(300.0 + left[EXCESS])


def test_only_an_agitator_of_its_own_bottles_or_a_dosing_motor_shakes_a_platform(plant_with, demo_site):
    plant = plant_with()
    shaken = lambda: [platform.scale.shaken for platform in plant.instruments.scales.values()]  # noqa: E731
    plant.agitators = frozenset({demo_site.inputs["gypsum_suspension"].agitator})
    run(plant, 3.0)
    assert shaken() == [False, False, True, False, False]
    plant.agitators, plant.motor = frozenset(), True
    run(plant, 3.0)
    assert shaken() == [True] * 5
    plant.motor = False
    run(plant, 3.0)
    assert shaken() == [False] * 5


def test_how_often_a_platform_is_read_changes_no_reading(plant_with, demo_site):
    often, seldom = plant_with(), plant_with()
    kelp = channel_of(demo_site, "kelp_extract")
    for plant, looks in ((often, True), (seldom, False)):
        for second in range(60):
            if second == 20:
                plant.pump(kelp, 4000, 60, dose_id=1)
            plant.advance(1.0)
            if looks:
                plant.instruments.scale_g(SHELF_THREE, second + 1.0)
    assert often.instruments.scale_g(SHELF_THREE, 61.0) == pytest.approx(
        seldom.instruments.scale_g(SHELF_THREE, 61.0), abs=1e-6
    )
