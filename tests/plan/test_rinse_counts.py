"""Rinsing by elementary dilution. No outside table: the rows are fractions worked out by hand.

5 mL diluted with 50 mL is 5/55 = 1/11 of what it was: 9.1 % after one rinse, 1/121 = 0.83 % after two, and
1/1331 = 0.075 % after three. A line that is mixed evenly at each rinse is assumed.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from small_site import liquid, recipe, small_rig

from controller.plan.batch import PlanRefused, plan_batch
from controller.plan.findings import Rule
from controller.plan.rinsing import rinse_times, share_left
from controller.plan.tonight import tonight_from
from controller.settings.values import Carried


@pytest.mark.parametrize(("times", "percent"), [(1, 9.1), (2, 0.83), (3, 0.075)])
def test_5_ml_rinsed_with_50_ml_leaves(times, percent):
    assert 100 * share_left(5.0, 50.0, times) == pytest.approx(percent, rel=0.005)


# 5/155 = 1/31 is left instead of 1/1331, and 1331/31 is 42.9.
def test_one_rinse_of_150_ml_leaves_43_times_more_than_three_of_50():
    assert share_left(5.0, 150.0, 1) / share_left(5.0, 50.0, 3) == pytest.approx(43, abs=0.5)


# One rinse recovers 90.9 %, two 99.17 %, three 99.92 %.
@pytest.mark.parametrize(("recovery", "times"), [(0.90, 1), (0.91, 2), (0.99, 2), (0.999, 3), (0.0, 1)])
def test_rinses_wanted_for_a_recovery(recovery, times):
    assert rinse_times(5.0, 50.0, recovery) == times


def test_a_recovery_that_is_met_exactly_needs_no_further_rinse():
    # 10 mL into 10 mL halves it: exactly 1/1024 is left after ten.
    assert rinse_times(10.0, 10.0, 1.0 - 1.0 / 1024.0) == 10


@pytest.mark.parametrize("holdup_ml", [0.0, 5e-324, 1e-9])
def test_a_line_that_holds_next_to_nothing_is_rinsed_once(holdup_ml):
    assert rinse_times(holdup_ml, 50.0, 0.99) == 1


@given(holdup_ml=st.floats(0.1, 200.0), rinse_ml=st.floats(1.0, 200.0), recovery=st.floats(0.0, 0.99999))
def test_the_fewest_rinses_that_do_it(holdup_ml, rinse_ml, recovery):
    times = rinse_times(holdup_ml, rinse_ml, recovery)
    allowed = (1.0 - recovery) * (1.0 + 1e-9)
    assert share_left(holdup_ml, rinse_ml, times) <= allowed
    assert times == 1 or share_left(holdup_ml, rinse_ml, times - 1) > allowed * (1.0 - 1e-6)


@pytest.mark.parametrize(("rinse_ml", "recovery"), [(50.0, 1.0), (50.0, 1.5), (50.0, -0.1), (0.0, 0.9)])
def test_a_rinse_that_cannot_work_is_refused(small_site, rinse_ml, recovery):
    with pytest.raises(ValueError, match="recovers"):
        rinse_times(5.0, rinse_ml, recovery)
    rig = small_rig()
    bad = replace(rig, manifold=replace(rig.manifold, rinse_ml=rinse_ml, recovery=recovery))
    with pytest.raises(PlanRefused) as refused:
        plan_batch(small_site(rig=bad), "feed", tonight_from(small_site()))
    (fault,) = refused.value.faults
    assert fault.rule is Rule.RINSE
    assert fault.what == ("rig.toml: manifold.rinse" if rinse_ml == 0.0 else "rig.toml: manifold.recovery")


@pytest.mark.parametrize("rinse_ml", [1e-20, 0.1, 2.0])
def test_a_drip_is_no_rinse_and_is_refused(small_site, rinse_ml):
    rig = small_rig()
    drip = replace(rig, manifold=replace(rig.manifold, rinse_ml=rinse_ml))
    with pytest.raises(PlanRefused) as refused:
        plan_batch(small_site(rig=drip), "feed", tonight_from(small_site()))
    assert {fault.rule for fault in refused.value.faults} == {Rule.RINSE}


def rinses_of(site, name="feed"):
    return {one.input: one.rinses for one in plan_batch(site, name, tonight_from(site)).additions}


def test_calcium_before_phosphate_is_rinsed_fully_and_alone_is_not(small_site):
    apart = rinses_of(small_site(recipe(("gypsum", 3), ("kelp", 2), ("phosphate", 2))))
    beside = rinses_of(small_site(recipe(("gypsum", 3), ("phosphate", 2), ("kelp", 2))))
    assert apart["gypsum"] == 2
    assert beside["gypsum"] == 3
    assert beside["phosphate"] == 2


def test_the_last_addition_is_rinsed_fully_when_a_trim_must_not_meet_it(small_site):
    lime_last = (("kelp", 2), ("lime", 1))
    with_acid = rinses_of(small_site(recipe(*lime_last, acid="vinegar", base=None)))
    without = rinses_of(small_site(recipe(*lime_last, acid=None, base=None)))
    assert with_acid["lime"] == 3
    assert without["lime"] == 2


def test_an_acid_is_rinsed_fully_before_what_lives(small_site):
    site = small_site(recipe(("vinegar", 1), ("tea", 5), acid=None, base=None))
    assert rinses_of(site) == {"vinegar": 3, "tea": 2}


def test_an_acid_that_carries_phosphate_must_not_follow_calcium_as_a_trim(small_site):
    acid = replace(liquid("vinegar"), reaction=small_site().inputs["vinegar"].reaction)
    acid = replace(acid, carries=frozenset({Carried.PHOSPHATE}))
    site = small_site(recipe(("kelp", 2), ("gypsum", 3), base=None), inputs=[acid])
    assert rinses_of(site)["gypsum"] == 3
