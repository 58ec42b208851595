"""What does not fit the tank, the heel rule, the water or a pump is refused with its remedy."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from small_site import liquid, pump, recipe, small_policy, small_rig

from controller.plan.additions import portions_of
from controller.plan.batch import PlanRefused, plan_batch
from controller.plan.findings import Rule
from controller.plan.steps import Mix, Rebound
from controller.plan.tonight import Tonight, tonight_from
from controller.settings.values import ChlorineMethod, Site


def refused(site, name="feed", **tonight):
    with pytest.raises(PlanRefused) as caught:
        plan_batch(site, name, replace(tonight_from(site), **tonight))
    return {fault.rule: fault for fault in caught.value.faults}


def planned(site, name="feed", **tonight):
    return plan_batch(site, name, replace(tonight_from(site), **tonight))


def rules_warned(plan):
    return {warning.rule for warning in plan.warnings}


def test_an_unknown_recipe_names_the_nearest_one(small_site):
    assert "did you mean feed?" in refused(small_site(), "fed")[Rule.RECIPE].remedy


def test_the_final_volume_stays_within_the_working_volume(small_site):
    assert planned(small_site(), final_l=200.0).final_l == 200.0
    assert set(refused(small_site(), final_l=200.1)) == {Rule.FINAL_VOLUME}


def test_the_name_of_an_unknown_recipe_is_told_on_one_line(small_site):
    fault = refused(small_site(), "feed\nof\x1b[31m" + 5_000 * "a")[Rule.RECIPE]
    assert fault.line().isprintable()
    assert fault.value.startswith(r"feed\nof\x1b[31m")
    assert len(fault.line()) < 200


@pytest.mark.parametrize("nonsense", [math.nan, math.inf, -1.0])
@pytest.mark.parametrize("what", ["heel_l", "heel_age_s", "final_l"])
def test_figures_that_no_tank_can_have_are_refused(small_site, what, nonsense):
    assert set(refused(small_site(), **{what: nonsense})) == {Rule.FIGURES}


def test_a_bottle_cannot_hold_less_than_nothing(small_site):
    assert set(refused(small_site(), stock_ml={"kelp": -1.0})) == {Rule.FIGURES}


def test_a_heel_too_large_is_to_be_drained(small_site):
    assert planned(small_site(), heel_l=15.0).heel_l == 15.0
    found = refused(small_site(), heel_l=15.1)
    assert found[Rule.HEEL].remedy == "drain the tank"


def test_a_heel_too_old_is_to_be_drained_but_an_empty_tank_has_no_age(small_site):
    old_s = 43_201.0
    assert refused(small_site(), heel_l=1.0, heel_age_s=old_s)[Rule.HEEL].remedy == "drain the tank"
    assert planned(small_site(), heel_l=0.0, heel_age_s=old_s).heel_l == 0.0


def test_a_heel_whose_age_nobody_knows_is_said_aloud(small_site):
    assert Rule.HEEL in rules_warned(planned(small_site(), heel_l=1.0))
    assert Rule.HEEL not in rules_warned(planned(small_site(), heel_l=1.0, heel_age_s=43_200.0))
    assert Rule.HEEL not in rules_warned(planned(small_site(), heel_l=0.0))


def test_a_heel_that_fills_the_batch_leaves_nothing_to_mix(small_site):
    assert Rule.FINAL_VOLUME in refused(small_site(), heel_l=15.0, final_l=15.0)


def test_air_stays_off_all_night_on_a_heel_that_may_foam(small_site):
    site = small_site(recipe(("kelp", 2)), recipe(("soap", 2), name="foamy"))
    clean, heeled = planned(site), planned(site, heel_l=5.0)
    assert all(step.air for step in clean.steps if isinstance(step, Mix | Rebound))
    assert not any(step.air for step in heeled.steps if isinstance(step, Mix | Rebound))
    assert Rule.HEEL_UNKNOWN in rules_warned(heeled)
    assert Rule.HEEL_UNKNOWN not in rules_warned(clean)


@pytest.mark.parametrize("name", ["peroxide", "tea"])
def test_a_heel_is_warned_of_where_oxidiser_and_life_could_meet(small_site, name):
    site = small_site(recipe((name, 3)), rig=replace(small_rig(), air_pump=False))
    assert Rule.HEEL_UNKNOWN in rules_warned(planned(site, heel_l=5.0))
    assert Rule.HEEL_UNKNOWN not in rules_warned(planned(site))


def test_rates_that_leave_no_water_are_refused(small_site):
    thick = [liquid(name, label_high_ml_l=1_000.0) for name in ("kelp", "humate", "fish")]
    site = small_site(recipe(("kelp", 400), ("humate", 400), ("fish", 400)), inputs=thick)
    assert Rule.FINAL_VOLUME in refused(site)


def test_the_water_must_suffice_for_the_first_fill(small_site):
    site = small_site(recipe(("kelp", 5), first_fill_share=0.999))
    assert set(refused(site)) == {Rule.WATER_LEFT}
    assert planned(small_site(recipe(("kelp", 5), first_fill_share=0.99))).additions


def test_the_first_fill_must_cover_the_stir_pump(small_site):
    assert set(refused(small_site(), final_l=20.9 / 0.75)) == {Rule.FIRST_FILL}
    assert planned(small_site(), final_l=21.1 / 0.75).additions


def test_a_heel_counts_in_the_first_level(small_site):
    site = small_site(recipe(("kelp", 5), first_fill_share=0.1, final_l=100.0))
    assert set(refused(site, heel_l=0.0)) == {Rule.FIRST_FILL}
    deep = replace(small_policy(), heel=replace(small_policy().heel, max_l=50.0))
    heeled = planned(small_site(site.recipes["feed"], policy=deep), heel_l=30.0)
    assert next(step.to_l for step in heeled.steps if hasattr(step, "to_l")) == 30.0


def test_a_carbon_cartridge_must_last_for_the_batch(small_site):
    water = replace(small_policy().water, chlorine=ChlorineMethod.CARTRIDGE, cartridge_left_l=100.0)
    spent = small_site(policy=replace(small_policy(), water=water))
    found = refused(spent)
    assert set(found) == {Rule.CARTRIDGE}
    assert "`cartridge_left` in site.toml" in found[Rule.CARTRIDGE].remedy
    assert planned(spent, final_l=90.0).additions


def with_pump(name, **changes):
    rig = small_rig()
    return replace(rig, pumps={**rig.pumps, name: pump(name, rig.pumps[name].channel, **changes)})


def test_a_dose_too_small_for_its_pump_is_refused(small_site):
    site = small_site(recipe(("kelp", 2)), rig=with_pump("p8", min_dose_ml=360.1))
    assert set(refused(site)) == {Rule.SMALLEST_DOSE}
    assert planned(small_site(recipe(("kelp", 2)), rig=with_pump("p8", min_dose_ml=360.0))).additions


def test_a_pump_is_refused_more_than_its_night_cap(small_site):
    site = small_site(recipe(("kelp", 2)), rig=with_pump("p8", night_cap_ml=359.9))
    assert set(refused(site)) == {Rule.NIGHT_CAP}
    assert planned(small_site(recipe(("kelp", 2)), rig=with_pump("p8", night_cap_ml=360.0))).additions


def test_two_inputs_on_one_pump_share_its_night_cap(small_site):
    both = [liquid("kelp", pump="p8"), liquid("humate", pump="p8")]
    site = small_site(
        recipe(("kelp", 2), ("humate", 2)), inputs=both, rig=with_pump("p8", night_cap_ml=700.0)
    )
    assert set(refused(site)) == {Rule.NIGHT_CAP}


def test_the_rinse_pump_has_a_night_cap_too(small_site):
    site = small_site(recipe(("kelp", 2)), rig=with_pump("rinse", night_cap_ml=99.0))
    assert set(refused(site)) == {Rule.NIGHT_CAP}
    roomy = small_site(recipe(("kelp", 2)), rig=with_pump("rinse", night_cap_ml=100.0))
    assert Rule.TRIM_ROOM in rules_warned(planned(roomy))


def trim_room(site):
    return [warning.text for warning in planned(site).warnings if warning.rule == Rule.TRIM_ROOM]


@pytest.mark.parametrize(("high_float_l", "warned"), [(180.6, True), (180.7, False)])
def test_trims_that_could_reach_the_high_float_are_warned_of(small_site, high_float_l, warned):
    # Five trims, each rinsed three times with 50 mL, and 180 mL of either trim input: 1.11 L, and room was
    # left for three trims of 9 mL and as many rinses, 0.477 L of it.
    rig = small_rig()
    near = small_site(rig=replace(rig, tank=replace(rig.tank, high_float_l=high_float_l)))
    texts = trim_room(near)
    assert len(texts) == warned
    assert all("trim.max_trims" in text for text in texts)


@pytest.mark.parametrize(("night_cap_ml", "warned"), [(849.0, True), (850.0, False)])
def test_every_trim_rinses_the_line_fully_and_the_rinse_pump_must_bear_it(small_site, night_cap_ml, warned):
    # Kelp takes two rinses of 50 mL; five trims take three each, though the site's own recovery takes two.
    site = small_site(recipe(("kelp", 2)), rig=with_pump("rinse", night_cap_ml=night_cap_ml))
    texts = trim_room(site)
    assert len(texts) == warned
    assert all("trim.max_trims" in text and "pumps.rinse.night_cap" in text for text in texts)


@pytest.mark.parametrize(("pump_name", "other"), [("p5", "lime"), ("p6", "vinegar")])
@pytest.mark.parametrize(("night_cap_ml", "warned"), [(179.9, True), (180.0, False)])
def test_trims_that_the_pump_of_the_acid_or_base_may_not_move_in_one_night_are_warned_of(
    small_site, pump_name, other, night_cap_ml, warned
):
    # At most 1 mL/L in 180 L.
    rig = with_pump(pump_name, night_cap_ml=night_cap_ml)
    texts = trim_room(small_site(recipe(("kelp", 2)), rig=rig))
    assert len(texts) == warned
    assert all("trim.cap" in text and f"pumps.{pump_name}.night_cap" in text for text in texts)
    alone = {"acid": None} if other == "lime" else {"base": None}
    assert trim_room(small_site(recipe(("kelp", 2), **alone), rig=rig)) == []


@pytest.mark.parametrize(("night_cap_ml", "warned"), [(359.9, True), (360.0, False)])
def test_what_a_recipe_takes_is_not_left_for_the_trims_of_that_pump(small_site, night_cap_ml, warned):
    site = small_site(recipe(("vinegar", 1)), rig=with_pump("p5", night_cap_ml=night_cap_ml))
    assert len(trim_room(site)) == warned


def test_amounts_are_worked_out_once_and_what_is_judged_is_what_is_planned(small_site, monkeypatch):
    worked_out = []

    def counted(*args):
        worked_out.append(args)
        return portions_of(*args)

    monkeypatch.setattr("controller.plan.batch.portions_of", counted)
    assert planned(small_site()).additions
    assert len(worked_out) == 1


def test_an_overridden_volume_scales_every_amount(small_site):
    site = small_site()
    whole, half = planned(site), planned(site, final_l=90.0)
    assert [one.ml / 2 for one in whole.additions] == pytest.approx([one.ml for one in half.additions])


def test_tonight_starts_empty_with_full_bottles(small_site):
    site = small_site()
    assert tonight_from(site) == Tonight(
        heel_l=0.0,
        heel_age_s=None,
        stock_ml={name: one.stock_ml for name, one in site.inputs.items()},
        final_l=None,
    )


def test_a_rate_slower_than_one_count_a_second_is_refused(demo_site: Site) -> None:
    slow = replace(demo_site.inputs["kelp_extract"], max_ml_min=2.0)
    site = replace(demo_site, inputs={**demo_site.inputs, "kelp_extract": slow})
    with pytest.raises(
        PlanRefused, match=r"kelp_extract on pump kelp: 2 mL/min.*slowest pace.*_extract\.max"
    ):
        plan_batch(site, "fruiting", tonight_from(site))


def test_a_batch_too_small_for_its_first_trim_is_warned_of(demo_site: Site) -> None:
    small = plan_batch(demo_site, "plain_flush", replace(tonight_from(demo_site), final_l=30.0))
    assert any("citric_acid" in warning.text and "first trim" in warning.text for warning in small.warnings)
    whole = plan_batch(demo_site, "plain_flush", tonight_from(demo_site))
    assert not any("first trim" in warning.text for warning in whole.warnings)
