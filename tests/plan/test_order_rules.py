"""What may follow what in a recipe."""

from __future__ import annotations

from dataclasses import replace

import pytest
from small_site import liquid, recipe

from controller.plan.batch import PlanRefused, plan_batch
from controller.plan.findings import Rule
from controller.plan.mixing import mix_s
from controller.plan.steps import Dose, Mix
from controller.plan.tonight import tonight_from
from controller.settings.values import Reaction


def rules_refused(site, name="feed", tonight=None):
    with pytest.raises(PlanRefused) as refused:
        plan_batch(site, name, tonight or tonight_from(site))
    assert all(fault.remedy for fault in refused.value.faults)
    return [fault.rule for fault in refused.value.faults]


def plan_of(site, name="feed"):
    return plan_batch(site, name, tonight_from(site))


def test_a_living_input_before_another_is_refused_with_where_to_move_it(small_site):
    site = small_site(recipe(("tea", 5), ("kelp", 2)))
    with pytest.raises(PlanRefused, match="move tea to the end") as refused:
        plan_of(site)
    assert [fault.rule for fault in refused.value.faults] == [Rule.LIVING_LAST]


def test_two_living_inputs_at_the_end_are_fine(small_site):
    site = small_site(
        recipe(("kelp", 2), ("tea", 5), ("brew", 2)), inputs=[liquid("brew", living=True, pump="p9")]
    )
    assert [one.living for one in plan_of(site).additions] == [False, True, True]


@pytest.mark.parametrize("pair", [("vinegar", "lime"), ("lime", "vinegar")])
def test_acid_and_base_are_never_neighbours(small_site, pair):
    lines = [(name, 1.0) for name in pair]
    assert rules_refused(small_site(recipe(*lines))) == [Rule.ACID_AND_BASE]
    assert plan_of(small_site(recipe(lines[0], ("kelp", 2), lines[1]))).additions


@pytest.mark.parametrize("pair", [("gypsum", "phosphate"), ("phosphate", "gypsum")])
def test_calcium_beside_phosphate_is_warned_of_and_mixed_completely(small_site, pair):
    site = small_site(recipe((pair[0], 2.0), (pair[1], 2.0)))
    plan = plan_of(site)
    assert [warning.rule for warning in plan.warnings if warning.rule is Rule.CALCIUM] == [Rule.CALCIUM]
    first = plan.additions[0]
    after_first_l = 135.0 + (first.ml + first.rinses * first.rinse_ml) / 1000.0
    suspension = pair[0] == "gypsum"
    assert first.mix_s == pytest.approx(mix_s(site, after_first_l, suspension=suspension, complete=True))


def test_calcium_apart_from_phosphate_is_not_warned_of(small_site):
    plan = plan_of(small_site(recipe(("gypsum", 2), ("kelp", 2), ("phosphate", 2))))
    assert Rule.CALCIUM not in {warning.rule for warning in plan.warnings}


def test_an_oxidiser_is_never_in_one_recipe_with_what_lives(small_site):
    assert rules_refused(small_site(recipe(("peroxide", 2), ("kelp", 2), ("tea", 5)))) == [Rule.OXIDISER]


@pytest.mark.parametrize("other", ["vinegar", "lime"])
def test_an_oxidiser_is_never_beside_acid_or_base(small_site, other):
    assert rules_refused(small_site(recipe(("peroxide", 2), (other, 1)))) == [Rule.OXIDISER]
    assert rules_refused(small_site(recipe((other, 1), ("peroxide", 2)))) == [Rule.OXIDISER]
    assert plan_of(small_site(recipe(("peroxide", 2), ("kelp", 2), (other, 1)))).additions


def test_an_input_is_listed_once(small_site):
    assert rules_refused(small_site(recipe(("kelp", 2), ("fish", 2), ("kelp", 1)))) == [Rule.LISTED_ONCE]


def test_air_stays_off_from_the_first_foamer_onward(small_site):
    plan = plan_of(small_site(recipe(("kelp", 2), ("soap", 2), ("humate", 2))))
    air = [step.air for step in plan.steps if isinstance(step, Mix)]
    assert air == [True, False, False, False]
    assert Rule.FOAM in {warning.rule for warning in plan.warnings}


def test_a_site_without_air_is_not_told_about_foam(small_site):
    site = small_site()
    still = small_site(rig=replace(site.rig, air_pump=False))
    plan = plan_of(still)
    assert not any(step.air for step in plan.steps if isinstance(step, Mix))
    assert Rule.FOAM not in {warning.rule for warning in plan.warnings}


def test_a_trim_acid_must_be_an_acid(small_site):
    assert rules_refused(small_site(recipe(("fish", 2), acid="kelp", base="lime"))) == [Rule.TRIM_INPUT]
    neutral_base = liquid("chalk", reaction=Reaction.NEUTRAL)
    assert rules_refused(small_site(recipe(("fish", 2), base="chalk"), inputs=[neutral_base])) == [
        Rule.TRIM_INPUT
    ]


def test_a_wrong_trim_input_is_named_by_its_place_in_the_recipe(small_site):
    with pytest.raises(PlanRefused, match=r"^recipes/feed\.toml: trim\.acid: kelp is neutral"):
        plan_of(small_site(recipe(("fish", 2), acid="kelp")))


def test_nothing_is_put_into_another_order_in_silence(small_site):
    lines = (("humate", 2), ("kelp", 2), ("fish", 2), ("gypsum", 2), ("tea", 5))
    plan = plan_of(small_site(recipe(*lines)))
    assert [step.input for step in plan.steps if isinstance(step, Dose)] == [name for name, _ in lines]


def test_every_reason_is_given_at_once(small_site):
    site = small_site(
        recipe(("tea", 5), ("vinegar", 1), ("lime", 1), ("kelp", 200), ("kelp", 2), final_l=300.0)
    )
    rules = set(rules_refused(site, tonight=replace(tonight_from(site), heel_l=16.0)))
    assert {
        Rule.LIVING_LAST,
        Rule.ACID_AND_BASE,
        Rule.LISTED_ONCE,
        Rule.FACTOR_OF_TEN,
        Rule.FINAL_VOLUME,
        Rule.HEEL,
        Rule.STOCK,
        Rule.NIGHT_CAP,
    } <= rules
