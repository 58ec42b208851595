"""The most that one dose may be: refused by the plan, kept by trims, and carried by the board."""

from dataclasses import replace

import pytest
from small_site import pump, recipe, small_rig

from controller.plan.batch import PlanRefused, plan_batch
from controller.plan.dose_caps import dose_cap_ml
from controller.plan.findings import Rule
from controller.plan.tonight import tonight_from
from controller.service.board_settings import CAP_MARGIN, limits_of


def planned(site):
    return plan_batch(site, "feed", tonight_from(site))


def refused(site):
    with pytest.raises(PlanRefused) as caught:
        planned(site)
    return {fault.rule: fault for fault in caught.value.faults}


def rig_with(name, **changes):
    rig = small_rig()
    return replace(rig, pumps={**rig.pumps, name: pump(name, rig.pumps[name].channel, **changes)})


def test_a_dose_above_the_pumps_own_cap_is_refused_with_the_key_to_change(small_site):
    """2 mL/L in 180 L are 360 mL."""
    found = refused(small_site(recipe(("kelp", 2)), rig=rig_with("p8", dose_cap_ml=359.9)))
    assert set(found) == {Rule.DOSE_CAP}
    assert "pump p8: 360" in found[Rule.DOSE_CAP].line()
    assert "`pumps.p8.dose_cap` in rig.toml" in found[Rule.DOSE_CAP].remedy
    assert planned(small_site(recipe(("kelp", 2)), rig=rig_with("p8", dose_cap_ml=360.0))).additions


def test_a_rinse_above_its_pumps_cap_is_refused_too(small_site):
    found = refused(small_site(recipe(("kelp", 2)), rig=rig_with("rinse", dose_cap_ml=49.0)))
    assert set(found) == {Rule.DOSE_CAP}
    assert planned(small_site(recipe(("kelp", 2)), rig=rig_with("rinse", dose_cap_ml=50.0))).additions


@pytest.mark.parametrize(
    ("name", "expected_ml"),
    [
        ("p8", 500.0),  # 2 mL/L in a full tank of 200 L and a tenth on top, 440 mL, up to tenths of 5000
        ("p5", 500.0),  # all trims of a night, 1 mL/L: 220 mL
        ("rinse", 2000.0),  # 55 mL, up to tenths of 20 000
        ("p0", 5000.0),  # nothing uses it
    ],
)
def test_without_a_cap_of_its_own_a_pump_gets_one_from_what_may_be_asked_of_it(small_site, name, expected_ml):
    site = small_site(recipe(("kelp", 2)))
    assert dose_cap_ml(site, site.rig.pumps[name]) == pytest.approx(expected_ml)


def test_a_stand_in_never_passes_the_night_cap(small_site):
    site = small_site(recipe(("kelp", 2)), rig=rig_with("p8", night_cap_ml=400.0))
    assert dose_cap_ml(site, site.rig.pumps["p8"]) == 400.0


def test_the_board_carries_both_caps_in_counts_with_room_for_whole_rollers(small_site):
    site = small_site(recipe(("kelp", 2)), rig=rig_with("p8", dose_cap_ml=400.0))
    limits, kelp = limits_of(site), site.rig.pumps["p8"]
    assert limits.dose_caps[kelp.channel] == round(400.0 * CAP_MARGIN / kelp.ml_per_count)
    assert limits.night_caps[kelp.channel] == round(5000.0 * CAP_MARGIN / kelp.ml_per_count)


def test_no_demo_recipe_is_refused_and_no_demo_dose_cap_is_just_the_night_cap(demo_site):
    used = {demo_site.inputs[one.input].pump for r in demo_site.recipes.values() for one in r.additions}
    for name in used:
        one = demo_site.rig.pumps[name]
        assert dose_cap_ml(demo_site, one) < one.night_cap_ml
