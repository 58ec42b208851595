"""The demo site is a whole and coherent example of a site."""

import math
from collections.abc import Callable
from datetime import date

import pytest

from controller.settings.load import demo_site_folder
from controller.settings.shown import shown_readings
from controller.settings.values import ChlorineMethod, Form, Input, Reaction, ShortStock, Site


def test_it_is_the_tank_of_180_litres_that_is_mixed_nightly_at_half_past_two(demo_site: Site) -> None:
    assert demo_site.rig.tank.working_l == 180.0
    assert {(night.hour, night.minute) for night in demo_site.policy.nights} == {(2, 30)}
    planned = [day for night in demo_site.policy.nights for day in night.weekdays]
    assert sorted(planned) == [0, 1, 2, 3, 4, 5, 6]
    assert set(demo_site.recipes) == {"fruiting", "plain_flush", "young_plants"}
    assert demo_site.recipes["plain_flush"].additions == ()


def test_a_brim_full_tank_is_taller_than_wide_and_no_taller_than_a_person_reaches(demo_site: Site) -> None:
    tank = demo_site.rig.tank
    height_m = tank.brim_l / 1000 / (math.pi / 4 * tank.diameter_m**2)
    assert tank.diameter_m < height_m < 1.2


@pytest.mark.parametrize(
    ("what", "at_least", "is_one"),
    [
        ("suspension", 2, lambda i: i.form is Form.SUSPENSION and i.agitator is not None),
        ("foamer", 1, lambda i: i.foams),
        ("living input", 1, lambda i: i.living),
        ("acid", 1, lambda i: i.reaction is Reaction.ACID),
        ("slow-dissolving base", 1, lambda i: i.reaction is Reaction.BASE and i.slow_dissolving),
        ("input of any kind", 10, lambda i: True),
    ],
)
def test_it_has_every_kind_of_input(
    demo_site: Site, what: str, at_least: int, is_one: Callable[[Input], bool]
) -> None:
    found = [name for name, one in demo_site.inputs.items() if is_one(one)]
    assert len(found) >= at_least, what


def test_every_rate_of_every_recipe_lies_in_the_label_range_of_its_input(demo_site: Site) -> None:
    outside = [
        (recipe.name, addition.input)
        for recipe in demo_site.recipes.values()
        for addition in recipe.additions
        if not demo_site.inputs[addition.input].label_low_ml_l
        <= addition.rate_ml_l
        <= demo_site.inputs[addition.input].label_high_ml_l
    ]
    assert outside == []


def test_every_dose_fits_its_pump_its_bottle_and_the_time_of_a_night(demo_site: Site) -> None:
    for recipe in demo_site.recipes.values():
        for addition in recipe.additions:
            input_, dose_ml = demo_site.inputs[addition.input], addition.rate_ml_l * recipe.final_l
            pump = demo_site.rig.pumps[input_.pump]
            assert pump.min_dose_ml <= dose_ml <= pump.night_cap_ml, addition.input
            assert dose_ml / min(input_.max_ml_min, pump.max_ml_min) <= 4.0


def test_what_the_tubes_reach_covers_a_night_of_each_recipe_and_all_its_trims(demo_site: Site) -> None:
    for recipe in demo_site.recipes.values():
        needs_ml = {addition.input: addition.rate_ml_l * recipe.final_l for addition in recipe.additions}
        for trim in (recipe.trim_acid, recipe.trim_base):
            assert trim is not None
            needs_ml[trim] = needs_ml.get(trim, 0.0) + demo_site.policy.trim.cap_ml_l * recipe.final_l
        for name, need_ml in needs_ml.items():
            input_ = demo_site.inputs[name]
            assert 0.0 < need_ml <= input_.stock_ml - input_.unreachable_ml, (recipe.name, name)


def test_living_inputs_come_last_in_every_recipe(demo_site: Site) -> None:
    for recipe in demo_site.recipes.values():
        lives = [demo_site.inputs[addition.input].living for addition in recipe.additions]
        assert lives == sorted(lives)


def test_the_units_of_its_recipes_differ_and_keep_how_they_were_read(demo_site: Site) -> None:
    texts = [addition.rate_text for addition in demo_site.recipes["fruiting"].additions]
    assert texts == [
        "4 mL/L",
        "2 tsp/gal (label spoon 5 mL, US gallon) = 2.642 mL/L",
        "2 mL/L",
        "1 tbsp/gal (label spoon 15 mL, US gallon) = 3.963 mL/L",
        "5 mL/gal (US gallon) = 1.321 mL/L",
        "0.5 mL/L",
        "5 mL/L",
    ]


def test_every_reading_by_a_convention_is_shown_with_its_file_and_key() -> None:
    lines = [str(reading) for reading in shown_readings(demo_site_folder())]
    assert (
        "inputs.toml: inputs.kelp_extract.label_high: 1 tbsp/gal (label spoon 15 mL, US gallon) = 3.963 mL/L"
        in lines
    )
    assert (
        "recipes/fruiting.toml: addition[2].rate: 2 tsp/gal (label spoon 5 mL, US gallon) = 2.642 mL/L"
        in lines
    )
    assert not [line for line in lines if "addition[1].rate" in line and "4 mL/L" in line]


def test_each_setting_arrives_in_the_unit_its_name_says(demo_site: Site) -> None:
    rig, policy = demo_site.rig, demo_site.policy
    assert (rig.tank.diameter_m, rig.fill.pipe_ml, rig.fill.rated_l_min) == (0.6, 400.0, 12.0)
    assert (rig.stir.flow_l_min, rig.stir.nozzle_mm, rig.manifold.recovery) == (60.0, 15.0, 0.995)
    assert (rig.probe.slope_share, rig.probe.calibrated, rig.probe.due_days) == (0.98, date(2026, 11, 20), 30)
    assert (rig.pumps["fish"].channel, rig.pumps["fish"].ml_per_count) == (0, 0.05)
    assert (policy.mixing.settle_s, policy.keeping.max_age_s, policy.heel.max_age_s) == (
        240.0,
        28800.0,
        129600.0,
    )
    assert (policy.trim.share, policy.trim.stable_ph, policy.stock.tolerance) == (0.9, 0.02, 0.05)
    assert (policy.trim.max_trims, policy.trim.guard_share) == (10, 0.2)
    assert (policy.water.chlorine, policy.stock.short) == (ChlorineMethod.CARTRIDGE, ShortStock.REFUSE)
    assert demo_site.inputs["fish_hydrolysate"].stock_ml == 12000.0
    assert demo_site.inputs["fish_hydrolysate"].unreachable_ml == 450.0
    assert demo_site.inputs["kelp_extract"].agitate_s == 0.0
