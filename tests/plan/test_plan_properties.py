"""What holds for any recipe, heel and volume that is not refused."""

from __future__ import annotations

import math
from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st
from small_site import recipe, small_rig, small_site

from controller.plan.batch import plan_batch
from controller.plan.reserve import EXPECTED_TRIMS
from controller.plan.steps import Dose, Fill, Mix, Rinse, Trim
from controller.plan.tonight import tonight_from
from controller.plan.trim_round import trim_round

PLAIN = ("fish", "gypsum", "phosphate", "soap", "kelp", "humate")
LIVING = ("tea",)
RATES = st.floats(1.0, 10.0)
QUICK = settings(max_examples=80, deadline=None)


@st.composite
def batches(draw):
    """A site with one recipe that keeps every rule, and a night to plan it for."""
    names = draw(st.permutations(PLAIN))[: draw(st.integers(0, len(PLAIN)))]
    names = [*names, *(LIVING if draw(st.booleans()) else ())]
    lines = [(name, draw(RATES)) for name in names]
    share = draw(st.floats(0.5, 0.85))
    rig = small_rig()
    manifold = replace(
        rig.manifold,
        holdup_ml=draw(st.floats(0.0, 40.0)),
        rinse_ml=draw(st.floats(20.0, 60.0)),
        recovery=draw(st.floats(0.5, 0.999)),
    )
    site = small_site(recipe(*lines, first_fill_share=share), rig=replace(rig, manifold=manifold))
    # Rinses are the same however small the batch, so a small one could lack the room for them.
    final_l = draw(st.floats(120.0, 200.0))
    heel_l = draw(st.floats(0.0, 15.0))
    tonight = replace(tonight_from(site), final_l=final_l, heel_l=heel_l)
    return site, tonight


@QUICK
@given(batches())
def test_volume_is_conserved(batch):
    plan = plan_batch(batch[0], "feed", batch[1])
    additions_l = math.fsum(one.ml for one in plan.additions) / 1000.0
    parts_l = [plan.heel_l, plan.water_l, plan.rinse_l, additions_l, plan.reserve_l]
    assert abs(math.fsum(parts_l) - plan.final_l) <= 1e-9
    assert plan.reserve_l > 0.0


@QUICK
@given(batches(), st.sampled_from(["vinegar", "lime"]))
def test_the_expected_trims_bring_the_tank_to_its_final_volume(batch, trim_input):
    site, tonight = batch
    plan = plan_batch(site, "feed", tonight)
    first_ml = site.policy.trim.first_dose_ml_l * plan.final_l
    one = trim_round(site, trim_input, first_ml, plan.ph_low, plan.ph_high, "vinegar", "lime")
    content_l = plan.heel_l + plan.water_l + brought_l(plan.steps) + EXPECTED_TRIMS * brought_l(one)
    assert abs(content_l - plan.final_l) <= 1e-9


def brought_l(steps):
    """Give what the doses and rinses among the steps bring into the tank."""
    doses_ml = [step.target_ml for step in steps if isinstance(step, Dose)]
    rinses_ml = [step.times * step.each_ml for step in steps if isinstance(step, Rinse)]
    return math.fsum(doses_ml + rinses_ml) / 1000.0


@QUICK
@given(batches())
def test_following_the_steps_ends_at_the_final_volume_less_the_room_for_trims_and_uses_the_water(batch):
    plan = plan_batch(batch[0], "feed", batch[1])
    content_l, water_l = plan.heel_l, 0.0
    for step in plan.steps:
        if isinstance(step, Fill):
            assert step.to_l >= content_l - 1e-9
            water_l += step.to_l - content_l
            content_l = step.to_l
        elif isinstance(step, Dose):
            content_l += step.target_ml / 1000.0
        elif isinstance(step, Rinse):
            content_l += step.times * step.each_ml / 1000.0
        assert content_l <= plan.final_l - plan.reserve_l + 1e-9
    assert abs(content_l - (plan.final_l - plan.reserve_l)) <= 1e-9
    assert abs(water_l - plan.water_l) <= 1e-9


@QUICK
@given(batches())
def test_a_rate_goes_on_the_volume_that_is_added(batch):
    site, tonight = batch
    plan = plan_batch(site, "feed", tonight)
    for line, addition in zip(site.recipes["feed"].additions, plan.additions, strict=True):
        assert math.isclose(addition.ml, line.rate_ml_l * (tonight.final_l - tonight.heel_l), rel_tol=1e-12)


@QUICK
@given(batches(), st.randoms(use_true_random=False))
def test_the_order_of_additions_never_changes_an_amount(batch, shuffler):
    site, tonight = batch
    old = site.recipes["feed"]
    plain = [line for line in old.additions if not site.inputs[line.input].living]
    living = [line for line in old.additions if site.inputs[line.input].living]
    shuffler.shuffle(plain)
    other = replace(site, recipes={"feed": replace(old, additions=(*plain, *living))})
    before = {one.input: one.ml for one in plan_batch(site, "feed", tonight).additions}
    after = {one.input: one.ml for one in plan_batch(other, "feed", tonight).additions}
    assert before == after


@QUICK
@given(batches())
def test_the_same_night_is_planned_the_same(batch):
    assert plan_batch(batch[0], "feed", batch[1]) == plan_batch(batch[0], "feed", batch[1])


@QUICK
@given(batches())
def test_each_addition_is_dosed_once_and_in_order(batch):
    site, tonight = batch
    plan = plan_batch(site, "feed", tonight)
    doses = [step.input for step in plan.steps if isinstance(step, Dose)]
    assert doses == [line.input for line in site.recipes["feed"].additions]


@QUICK
@given(batches())
def test_no_dose_comes_before_the_first_fill_or_without_rinse_and_mix_behind_it(batch):
    steps = plan_batch(batch[0], "feed", batch[1]).steps
    first_fill = next(place for place, step in enumerate(steps) if isinstance(step, Fill))
    for place, step in enumerate(steps):
        if isinstance(step, Dose):
            assert place > first_fill
            assert isinstance(steps[place + 1], Rinse)
            assert isinstance(steps[place + 2], Mix)


@QUICK
@given(batches())
def test_what_lives_is_dosed_after_the_last_trim_and_all_else_before_the_top_up(batch):
    site, tonight = batch
    steps = plan_batch(site, "feed", tonight).steps
    last_trim = max(place for place, step in enumerate(steps) if isinstance(step, Trim))
    top_up = next(place for place, step in enumerate(steps) if isinstance(step, Fill) and step.top_up)
    for place, step in enumerate(steps):
        if isinstance(step, Dose):
            assert place > last_trim if site.inputs[step.input].living else place < top_up


@QUICK
@given(batches())
def test_the_floor_is_under_the_duration_and_air_never_meets_foam_or_life(batch):
    site, tonight = batch
    plan = plan_batch(site, "feed", tonight)
    assert 0.0 < plan.floor_s < plan.duration_s
    spoiled = tonight.heel_l > 0 and any(
        site.inputs[line.input].foams or site.inputs[line.input].living
        for line in site.recipes["feed"].additions
    )
    for step in plan.steps:
        if isinstance(step, Dose):
            spoiled = spoiled or site.inputs[step.input].foams or site.inputs[step.input].living
        assert not (spoiled and getattr(step, "air", False))
