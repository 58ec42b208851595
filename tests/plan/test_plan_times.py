"""Duration and floor of a plan, against sums made by hand from the figures of the small site."""

from __future__ import annotations

from dataclasses import replace

import pytest
from small_site import recipe, small_policy

from controller.plan.batch import plan_batch
from controller.plan.mixing import theta95_s
from controller.plan.steps import Fill, Keep, Measure
from controller.plan.tonight import tonight_from
from controller.settings.values import ChlorineMethod


def plan_of(site, **tonight):
    return plan_batch(site, "feed", replace(tonight_from(site), **tonight))


def test_filling_takes_the_water_over_the_rated_flow(small_site):
    plan = plan_of(small_site())
    filling_s = sum(step.expected_s for step in plan.steps if isinstance(step, Fill))
    # Besides, the first fill waits 20 s for a calm surface and the level, the top-up 14 s.
    assert filling_s == pytest.approx(plan.water_l / 20.0 * 60.0 + 20.0 + 14.0)


def test_a_heel_saves_its_own_time(small_site):
    site = small_site(recipe(("kelp", 2)))
    empty, heeled = plan_of(site), plan_of(site, heel_l=10.0)
    first_s = [next(s.expected_s for s in p.steps if isinstance(s, Fill)) for p in (empty, heeled)]
    assert first_s[0] - first_s[1] == pytest.approx(10.0 / 20.0 * 60.0)


def test_the_floor_of_one_addition_by_hand(small_site):
    site = small_site(recipe(("kelp", 2)))
    plan = plan_of(site)
    tank, stir = site.rig.tank, site.rig.stir
    # The top-up leaves room for three trims, each of 0.05 mL/L x 180 L and three rinses of 50 mL: 0.477 L.
    # 360 mL at 150 mL/min, two rinses of 50 mL at 600 mL/min, mixing twice the correlation, the last to 99 %.
    pumped_s = 360.0 / 150.0 * 60.0 + 100.0 / 600.0 * 60.0
    mixing_s = 2.0 * theta95_s(tank, stir, 135.46) + 2.0 * 1.5372 * theta95_s(tank, stir, 180.0 - 0.477)
    water_s = (180.0 - 0.46 - 0.477) / 20.0 * 60.0
    assert plan.floor_s == pytest.approx(water_s + pumped_s + mixing_s + 300.0 + 60.0, rel=1e-4)


def test_the_duration_is_the_floor_and_the_waits_on_top(small_site):
    site = small_site(recipe(("kelp", 2)))
    plan = plan_of(site)
    # Preconditions 5 s, one pause of 2 s between two rinses, rebound 600 s, a second settle and reading,
    # and 34 s in which the fills wait.
    assert plan.duration_s == pytest.approx(plan.floor_s + 5.0 + 2.0 + 600.0 + 300.0 + 60.0 + 34.0)


def test_keeping_is_no_part_of_the_duration(small_site):
    plan = plan_of(small_site())
    assert plan.duration_s == pytest.approx(
        sum(step.expected_s for step in plan.steps if not isinstance(step, Keep))
    )
    assert plan.duration_s < plan.steps[-1].expected_s


def test_a_rest_of_the_water_lengthens_the_night_but_not_the_floor(small_site):
    policy = small_policy()
    resting = replace(policy, water=replace(policy.water, chlorine=ChlorineMethod.AERATED_REST))
    plain, rested = plan_of(small_site()), plan_of(small_site(policy=resting))
    assert rested.duration_s - plain.duration_s == pytest.approx(7_200.0)
    assert rested.floor_s == plain.floor_s


def test_a_reading_is_given_up_well_after_it_should_be_stable(small_site):
    measure = next(step for step in plan_of(small_site()).steps if isinstance(step, Measure))
    assert measure.expected_s == measure.stable_s == 60.0
    assert measure.give_up_s == 300.0
