"""Short bottles: refused, or used up within the site's tolerance. What no tube reaches does not count."""

from __future__ import annotations

from dataclasses import replace

import pytest
from small_site import UNREACHABLE_ML, liquid, recipe, small_policy

from controller.plan.batch import PlanRefused, plan_batch
from controller.plan.findings import Rule
from controller.plan.tonight import tonight_from
from controller.settings.values import ShortStock, StockRule

TOLERANT = replace(small_policy(), stock=StockRule(short=ShortStock.WITHIN_TOLERANCE, tolerance=0.05))


def tonight(site, **reachable_ml):
    """Let the tubes reach so much of the named bottles; what they do not reach is there besides."""
    stock_ml = {name: ml + UNREACHABLE_ML for name, ml in reachable_ml.items()}
    return replace(tonight_from(site), stock_ml={**tonight_from(site).stock_ml, **stock_ml})


def rules_refused(site, **reachable_ml):
    with pytest.raises(
        PlanRefused, match=r"content as `stock` in inputs\.toml, or .* `unreachable`"
    ) as caught:
        plan_batch(site, "feed", tonight(site, **reachable_ml))
    return {fault.rule for fault in caught.value.faults}


def test_a_bottle_that_holds_just_enough_is_enough(small_site):
    site = small_site(recipe(("kelp", 2)))
    assert plan_batch(site, "feed", tonight(site, kelp=360.0)).additions[0].ml == 360.0


def test_a_short_bottle_is_refused(small_site):
    site = small_site(recipe(("kelp", 2)))
    assert rules_refused(site, kelp=359.9) == {Rule.STOCK}


def test_what_the_tube_does_not_reach_is_told_and_not_planned_with(small_site):
    site = small_site(recipe(("kelp", 2)))
    all_of_it = replace(tonight_from(site), stock_ml={"kelp": 360.0})
    with pytest.raises(PlanRefused) as caught:
        plan_batch(site, "feed", all_of_it)
    (fault,) = caught.value.faults
    assert fault.value == (
        "310 mL within reach (360 mL in the bottle, of which 50 mL lie below the tube), 360 mL needed"
    )


def test_a_bottle_below_the_end_of_its_tube_is_empty_and_not_less_than_empty(small_site):
    site = small_site(
        recipe(("kelp", 2)), policy=replace(TOLERANT, stock=StockRule(TOLERANT.stock.short, 1.0))
    )
    plan = plan_batch(site, "feed", replace(tonight_from(site), stock_ml={"kelp": 51.0}))
    assert plan.additions[0].ml == 1.0
    with pytest.raises(PlanRefused, match=r"0 mL, and the pump meters no less"):
        plan_batch(site, "feed", replace(tonight_from(site), stock_ml={"kelp": 49.0}))


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
    with pytest.raises(PlanRefused, match=r"0 mL within reach \(10 mL in the bottle"):
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
