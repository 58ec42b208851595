"""Short bottles: refused, or used up within the site's tolerance."""

from __future__ import annotations

from dataclasses import replace

import pytest
from small_site import liquid, recipe, small_policy

from controller.plan.batch import PlanRefused, plan_batch
from controller.plan.findings import Rule
from controller.plan.tonight import tonight_from
from controller.settings.values import ShortStock, StockRule

TOLERANT = replace(small_policy(), stock=StockRule(short=ShortStock.WITHIN_TOLERANCE, tolerance=0.05))


def tonight(site, **stock_ml):
    return replace(tonight_from(site), stock_ml={**tonight_from(site).stock_ml, **stock_ml})


def rules_refused(site, **stock_ml):
    with pytest.raises(PlanRefused, match=r"write its content as `stock` in inputs\.toml") as caught:
        plan_batch(site, "feed", tonight(site, **stock_ml))
    return {fault.rule for fault in caught.value.faults}


def test_a_bottle_that_holds_just_enough_is_enough(small_site):
    site = small_site(recipe(("kelp", 2)))
    assert plan_batch(site, "feed", tonight(site, kelp=360.0)).additions[0].ml == 360.0


def test_a_short_bottle_is_refused(small_site):
    site = small_site(recipe(("kelp", 2)))
    assert rules_refused(site, kelp=359.9) == {Rule.STOCK}


def test_a_bottle_short_within_the_tolerance_is_used_up_and_said_aloud(small_site):
    site = small_site(recipe(("kelp", 2)), policy=TOLERANT)
    plan = plan_batch(site, "feed", tonight(site, kelp=345.0))
    assert plan.additions[0].ml == 345.0
    assert Rule.STOCK in {warning.rule for warning in plan.warnings}
    brought_l = (345.0 + 2 * 50.0) / 1000.0
    assert plan.water_l == pytest.approx(180.0 - brought_l - plan.reserve_l, abs=1e-9)


def test_a_bottle_short_beyond_the_tolerance_is_refused(small_site):
    site = small_site(recipe(("kelp", 2)), policy=TOLERANT)
    assert rules_refused(site, kelp=341.9) == {Rule.STOCK}


def test_all_short_bottles_are_named_at_once(small_site):
    site = small_site(recipe(("kelp", 2), ("fish", 2)))
    with pytest.raises(PlanRefused) as caught:
        plan_batch(site, "feed", tonight(site, kelp=1.0, fish=2.0))
    assert {fault.what for fault in caught.value.faults} == {"kelp", "fish"}


def test_a_bottle_that_tonight_does_not_name_holds_what_the_site_says(small_site):
    site = small_site(recipe(("kelp", 2)), inputs=[liquid("kelp", stock_ml=10.0)])
    with pytest.raises(PlanRefused, match=r"10\.0 mL in the bottle"):
        plan_batch(site, "feed", replace(tonight_from(site), stock_ml={}))


def test_an_empty_trim_bottle_is_refused_and_a_low_one_warned_of(small_site):
    site = small_site(recipe(("kelp", 2)))
    # First dose 0.05 mL/L, at most 1 mL/L, in 180 L.
    assert rules_refused(site, vinegar=8.9) == {Rule.TRIM_STOCK}
    low = plan_batch(site, "feed", tonight(site, vinegar=9.0))
    (warning,) = [warning for warning in low.warnings if warning.rule == Rule.TRIM_STOCK]
    assert "`trim.cap` in site.toml" in warning.text
    assert "`stock` in inputs.toml" in warning.text
    full = plan_batch(site, "feed", tonight(site, vinegar=180.0))
    assert Rule.TRIM_STOCK not in {warning.rule for warning in full.warnings}


def test_what_a_recipe_takes_is_not_left_for_the_trim(small_site):
    site = small_site(recipe(("vinegar", 1), base=None))
    assert rules_refused(site, vinegar=185.0) == {Rule.TRIM_STOCK}
