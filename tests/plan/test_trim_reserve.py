"""The room that a plan leaves for the trims of the night, by hand from the figures of the small site."""

from __future__ import annotations

from dataclasses import replace

import pytest
from small_site import recipe, small_policy

from controller.plan.batch import PlanRefused, plan_batch
from controller.plan.findings import Rule
from controller.plan.tonight import tonight_from
from controller.settings.values import ChlorineMethod


def plan_of(site, **tonight):
    return plan_batch(site, "feed", replace(tonight_from(site), **tonight))


@pytest.mark.parametrize(("final_l", "reserve_l"), [(180.0, 0.477), (100.0, 0.465)])
def test_room_is_left_for_three_first_doses_and_their_full_rinses(small_site, final_l, reserve_l):
    # Three times 0.05 mL/L and three rinses of 50 mL, which leave less than 0.1 % of 5 mL in the line.
    assert plan_of(small_site(), final_l=final_l).reserve_l == pytest.approx(reserve_l, abs=1e-12)


@pytest.mark.parametrize(
    ("acid", "base", "reserve_l"),
    [("vinegar", "lime", 0.477), ("vinegar", None, 0.477), (None, "lime", 0.477), (None, None, 0.0)],
)
def test_room_is_left_only_where_the_recipe_has_a_trim_input(small_site, acid, base, reserve_l):
    site = small_site(recipe(("kelp", 2), ("tea", 5), acid=acid, base=base))
    assert plan_of(site).reserve_l == pytest.approx(reserve_l)


def test_the_room_comes_out_of_the_water_and_changes_no_amount(small_site):
    with_trims = plan_of(small_site(recipe(("kelp", 2), ("tea", 5))))
    without = plan_of(small_site(recipe(("kelp", 2), ("tea", 5), acid=None, base=None)))
    assert [one.ml for one in with_trims.additions] == [one.ml for one in without.additions]
    assert with_trims.water_l == pytest.approx(without.water_l - 0.477)


def test_the_cartridge_must_last_for_the_rinses_of_the_trims_too(small_site):
    # 180 L less 360 mL of kelp are water, of whatever use.
    water = replace(small_policy().water, chlorine=ChlorineMethod.CARTRIDGE, cartridge_left_l=179.6)
    short = small_site(recipe(("kelp", 2)), policy=replace(small_policy(), water=water))
    with pytest.raises(PlanRefused) as caught:
        plan_of(short)
    assert [fault.rule for fault in caught.value.faults] == [Rule.CARTRIDGE]
