"""Bottles of the demo site on load cells: gross weight, what a pump takes from it, what shakes it."""

from functools import partial

import pytest
from sensed_plant import run, sensed_plant

from sim.matter.ions import EXCESS
from sim.true_instruments import TrueScales

EXACT_SCALES = {"scale_noise_g": 0.0, "span_error": 0.0, "drift_g_k": 0.0, "vibration_g": 0.0}


@pytest.fixture
def plant_with(demo_site, demo_world):
    return partial(sensed_plant, demo_site, demo_world)


def channel_of(site, name):
    return site.rig.pumps[site.inputs[name].pump].channel


def test_a_bottle_on_a_scale_loses_the_weight_that_its_pump_takes(plant_with, demo_site, demo_world):
    fitted = frozenset({"kelp_extract"})
    plant = plant_with(scales=TrueScales(fitted=fitted, creep_share=0.0, **EXACT_SCALES))
    kelp = channel_of(demo_site, "kelp_extract")
    assert set(plant.instruments.scales) == {kelp}
    density = 1.0 + demo_world.inputs["kelp_extract"].dissolved_ml[EXCESS]
    assert density == pytest.approx(demo_site.inputs["kelp_extract"].density_kg_l)
    before_g = plant.instruments.scale_g(kelp, 0.0)
    assert before_g == pytest.approx(650.0 + density * demo_site.inputs["kelp_extract"].stock_ml)
    stock = plant.dosing.bottles[kelp].stock
    before_ml = stock.volume_ml
    plant.pump(kelp, 2000, 200, dose_id=1)
    taken_ml = before_ml - stock.volume_ml
    assert taken_ml > 80.0
    assert before_g - plant.instruments.scale_g(kelp, 10.0) == pytest.approx(density * taken_ml)


def test_a_settled_bottle_weighs_what_it_weighed_when_shaken(plant_with, demo_site):
    plant = plant_with(scales=TrueScales(fitted=frozenset(demo_site.inputs), creep_share=0.0, **EXACT_SCALES))
    gypsum = channel_of(demo_site, "gypsum_suspension")
    of = demo_site.inputs["gypsum_suspension"]
    settled_g = plant.instruments.scale_g(gypsum, 0.0)
    assert settled_g == pytest.approx(650.0 + of.density_kg_l * of.stock_ml, rel=1e-6)
    plant.agitators = frozenset({of.agitator})
    run(plant, 120.0)
    assert plant.instruments.scale_g(gypsum, 120.0) == pytest.approx(settled_g, rel=1e-6)


def test_a_settled_bottle_loses_the_weight_of_the_sludge_that_is_drawn(plant_with, demo_site, demo_world):
    plant = plant_with(scales=TrueScales(fitted=frozenset(demo_site.inputs), creep_share=0.0, **EXACT_SCALES))
    gypsum = channel_of(demo_site, "gypsum_suspension")
    before_g = plant.instruments.scale_g(gypsum, 0.0)
    sludge = plant.dosing.bottles[gypsum].stock.draw(300.0)
    assert sludge.solids_share > 2.0
    left = demo_world.inputs["gypsum_suspension"].content(300.0, sludge.solids_share, 20.0)
    assert before_g - plant.instruments.scale_g(gypsum, 10.0) == pytest.approx(300.0 + left[EXCESS])


def test_only_its_own_agitator_or_a_dosing_motor_shakes_a_scale(plant_with, demo_site):
    plant = plant_with(scales=TrueScales(fitted=frozenset({"gypsum_suspension", "kelp_extract"})))
    gypsum, kelp = (channel_of(demo_site, name) for name in ("gypsum_suspension", "kelp_extract"))
    plant.agitators = frozenset({demo_site.inputs["gypsum_suspension"].agitator})
    run(plant, 3.0)
    assert (plant.instruments.scales[gypsum].shaken, plant.instruments.scales[kelp].shaken) == (True, False)
    plant.agitators, plant.motor = frozenset(), True
    run(plant, 3.0)
    assert plant.instruments.scales[kelp].shaken
