"""The steps of a night, in the order of the trade: water, one concentrate at a time, pH, living inputs last.

The order is common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from small_site import liquid, recipe, small_policy

from controller.plan.batch import plan_batch
from controller.plan.steps import (
    Agitate,
    Condition,
    Dose,
    Fill,
    Measure,
    Mix,
    Purpose,
    Rebound,
    Release,
    Rinse,
    Settle,
    StepKind,
    Trim,
)
from controller.plan.tonight import tonight_from
from controller.settings.values import ChlorineMethod

READING = ["settle", "measure"]


def plan_of(site, name="feed", **tonight):
    return plan_batch(site, name, replace(tonight_from(site), **tonight))


def kinds(plan):
    return [step.kind.value for step in plan.steps]


def steps_of(plan, kind):
    return [step for step in plan.steps if isinstance(step, kind)]


def test_a_whole_night_runs_in_its_order(small_site):
    site = small_site(recipe(("fish", 2), ("kelp", 2), ("tea", 5)))
    assert kinds(plan_of(site)) == [
        *["check", "fill", "condition water"],
        *["agitate stock", "dose", "rinse", "mix"],
        *["dose", "rinse", "mix"],
        *["fill", "mix", *READING, "trim"],
        *["rebound", *READING, "trim"],
        *["agitate stock", "dose", "rinse", "mix", *READING],
        *["release", "keep"],
    ]


def test_a_plain_flush_neither_doses_nor_rinses(small_site):
    flush = plan_of(small_site(), "flush")
    assert kinds(flush) == [
        *["check", "fill", "condition water", "fill", "mix", *READING, "trim", "release", "keep"]
    ]
    assert flush.rinse_l == 0.0
    assert flush.water_l == 180.0
    assert flush.reserve_l == 0.0


def test_no_rebound_is_awaited_where_nothing_can_trim(small_site):
    without = plan_of(small_site(recipe(("kelp", 2), acid=None, base=None)))
    assert not steps_of(without, Rebound)
    assert len(steps_of(without, Trim)) == 1
    for acid, base in (("vinegar", None), (None, "lime")):
        with_one = plan_of(small_site(recipe(("kelp", 2), acid=acid, base=base)))
        assert len(steps_of(with_one, Rebound)) == 1
        assert len(steps_of(with_one, Trim)) == 2


@pytest.mark.parametrize(
    ("guard_share", "low", "high", "title"),
    [
        (0.2, 5.9, 6.2, "Trim pH: aim for 5.90 to 6.20"),
        (0.0, 5.8, 6.3, "Trim pH: aim for 5.80 to 6.30"),
        (0.4, 6.0, 6.1, "Trim pH: aim for 6.00 to 6.10"),
    ],
)
def test_a_trim_aims_inside_the_window_by_the_guard_and_the_release_judges_by_the_window(
    small_site, guard_share, low, high, title
):
    policy = small_policy()
    site = small_site(policy=replace(policy, trim=replace(policy.trim, guard_share=guard_share)))
    plan = plan_of(site)
    for trim in steps_of(plan, Trim):
        assert (trim.ph_low, trim.ph_high) == pytest.approx((low, high))
        assert trim.title == title
    (release,) = steps_of(plan, Release)
    assert (release.ph_low, release.ph_high) == (5.8, 6.3)


def test_every_step_carries_the_kind_of_its_class(small_site):
    word_of = {
        "Check": StepKind.CHECK,
        "Condition": StepKind.CONDITION,
        "Agitate": StepKind.AGITATE,
    }
    for step in plan_of(small_site()).steps:
        name = type(step).__name__
        assert step.kind is word_of.get(name, StepKind.__members__.get(name.upper()))
        assert step.title
        assert step.expected_s >= 0.0


def test_the_fill_stops_at_its_share_and_then_where_there_is_room_for_trims_and_for_what_lives(small_site):
    plan = plan_of(small_site())
    first, top_up = steps_of(plan, Fill)
    tea = plan.additions[-1]
    assert (first.to_l, first.top_up) == (135.0, False)
    assert top_up.top_up
    tea_l = (tea.ml + tea.rinses * tea.rinse_ml) / 1000.0
    assert top_up.to_l == pytest.approx(180.0 - tea_l - plan.reserve_l, abs=1e-9)


def test_the_mix_before_agitates_the_next_bottle_and_that_time_counts(small_site):
    plan = plan_of(small_site(recipe(("kelp", 2), ("gypsum", 2), ("fish", 2))))
    mixes, agitates = steps_of(plan, Mix), steps_of(plan, Agitate)
    assert (mixes[0].next_input, mixes[0].next_agitator) == ("gypsum", "a1")
    assert mixes[0].mix_s < 120.0
    assert mixes[0].agitate_s == mixes[0].mix_s
    assert agitates[0].agitate_s == 120.0
    assert agitates[0].expected_s == pytest.approx(120.0 - mixes[0].mix_s)
    # The fish bottle wants 30 s, which the gypsum mix gives it whole.
    assert (mixes[1].next_agitator, mixes[1].agitate_s) == ("a0", 30.0)
    assert agitates[1].expected_s == 0.0
    assert (mixes[2].next_input, mixes[2].next_agitator, mixes[2].agitate_s) == (None, None, 0.0)


def test_a_bottle_without_an_agitator_gets_no_agitation(small_site):
    plan = plan_of(small_site(recipe(("humate", 2), ("kelp", 2))))
    assert not steps_of(plan, Agitate)
    mix = steps_of(plan, Mix)[0]
    assert (mix.next_input, mix.next_agitator, mix.agitate_s) == ("kelp", None, 0.0)


@pytest.mark.parametrize(
    ("pump_ml_min", "input_ml_min", "dilution", "expected"),
    [(200.0, 150.0, 20.0, 150.0), (200.0, 900.0, 20.0, 200.0), (200.0, 150.0, 1000.0, 30.0)],
)
def test_a_dose_runs_at_the_slowest_of_pump_input_and_carrier_flow(
    small_site, pump_ml_min, input_ml_min, dilution, expected
):
    # 30 L/min of stir flow at 1:1000 carries 30 mL/min.
    policy = small_policy()
    site = small_site(
        recipe(("kelp", 2)),
        inputs=[liquid("kelp", max_ml_min=input_ml_min)],
        policy=replace(policy, mixing=replace(policy.mixing, injection_dilution=dilution)),
    )
    assert site.rig.pumps["p8"].max_ml_min == pump_ml_min
    dose = steps_of(plan_of(site), Dose)[0]
    assert dose.rate_ml_min == expected
    assert dose.expected_s == pytest.approx(360.0 / expected * 60.0)
    assert dose.purpose is Purpose.ADDITION


def test_the_rest_of_the_water_is_planned_only_where_it_rests(small_site):
    policy = small_policy()
    resting = replace(policy, water=replace(policy.water, chlorine=ChlorineMethod.AERATED_REST))
    assert steps_of(plan_of(small_site()), Condition)[0].rest_s == 0.0
    assert steps_of(plan_of(small_site(policy=resting)), Condition)[0].rest_s == 7_200.0


def test_the_rebound_has_air_only_where_nothing_foams(small_site):
    assert steps_of(plan_of(small_site(recipe(("kelp", 2), ("tea", 5)))), Rebound)[0].air
    assert not steps_of(plan_of(small_site(recipe(("soap", 2), ("tea", 5)))), Rebound)[0].air


def test_air_is_off_once_something_living_is_in(small_site):
    plan = plan_of(small_site(recipe(("kelp", 2), ("tea", 5))))
    assert [mix.air for mix in steps_of(plan, Mix)] == [True, True, False]


def test_a_reading_comes_only_after_mix_and_settle(small_site):
    steps = plan_of(small_site()).steps
    for place, step in enumerate(steps):
        if isinstance(step, Measure):
            assert isinstance(steps[place - 1], Settle)
            assert isinstance(steps[place - 2], Mix | Rebound)
        if isinstance(step, Trim):
            assert isinstance(steps[place - 1], Measure)


def test_the_rinse_follows_its_dose_with_what_the_addition_says(small_site):
    plan = plan_of(small_site())
    for addition, dose, rinse in zip(
        plan.additions, steps_of(plan, Dose), steps_of(plan, Rinse), strict=True
    ):
        assert (dose.input, rinse.after_input) == (addition.input, addition.input)
        assert (dose.target_ml, dose.rate_ml_min) == (addition.ml, addition.dose_ml_min)
        assert (rinse.times, rinse.each_ml, rinse.pump) == (addition.rinses, addition.rinse_ml, "rinse")
