"""Trimming pH by hand: the doses grow with what was given before, and the card says so."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from small_site import recipe, small_policy

from controller.plan.by_hand import by_hand_card
from controller.plan.by_hand_trim import far_doses_ml, next_trim_ml
from controller.plan.card import Act


def test_far_from_the_window_each_dose_doubles_what_is_in_the_tank_up_to_the_cap():
    given_ml, doses = 0.0, []
    while dose_ml := next_trim_ml(given_ml, 4.5, 360.0, far=True):
        doses.append(dose_ml)
        given_ml += dose_ml
    assert doses == [4.5, 4.5, 9.0, 18.0, 36.0, 72.0, 144.0, 72.0]
    assert given_ml == 360.0


def test_near_the_window_each_dose_is_half_of_all_before_and_no_less_than_the_first():
    assert next_trim_ml(36.0, 4.5, 360.0, far=False) == 18.0
    assert next_trim_ml(4.5, 4.5, 360.0, far=False) == 4.5
    assert next_trim_ml(350.0, 4.5, 360.0, far=False) == 10.0


@given(
    first_ml=st.floats(0.001, 100.0),
    times=st.floats(1.0, 10_000.0),
    far=st.lists(st.booleans(), min_size=1, max_size=60),
)
def test_no_run_of_doses_passes_the_cap_or_more_than_doubles(first_ml, times, far):
    cap_ml, given_ml = first_ml * times, 0.0
    for is_far in far:
        dose_ml = next_trim_ml(given_ml, first_ml, cap_ml, far=is_far)
        assert 0.0 <= dose_ml <= max(given_ml, first_ml)
        given_ml += dose_ml
    assert given_ml <= cap_ml * (1 + 1e-12)


def test_the_card_lists_the_doses_the_rule_near_the_window_and_both_limits(small_site):
    card = by_hand_card(small_site(), "feed", 180.0, 100.0)
    first, further = [line.text for line in card.lines if line.act is Act.TRIM and line.input == "vinegar"]
    # 0.05 mL/L in 180 L is 9 mL; five trims a night, and 1 mL/L in all.
    assert first.startswith("Only if pH is above the window: shake, then measure 9.00 mL of vinegar liquid;")
    assert (
        "While pH is above 6.8, give as much again as all before: 9.00 mL, 18.0 mL, 36.0 mL, 72.0 mL. Nearer"
        in further
    )
    assert "give half of all before, but no less than 9.00 mL" in further
    assert "At most 5 doses and 180 mL in all; if pH is still out, do not feed it." in further
    lime = [line.text for line in card.lines if line.act is Act.TRIM and line.input == "lime"]
    assert "While pH is below 5.3, give" in lime[1]


def test_doses_too_small_for_the_vessel_come_with_their_dilution(small_site):
    card = by_hand_card(small_site(), "feed", 180.0, 500.0)
    further = [line.text for line in card.lines if line.act is Act.TRIM][1]
    assert (
        "9.00 mL (90.0 mL of the dilution 1 in 10), 18.0 mL (180 mL of the dilution 1 in 10), 36.0 mL,"
        in (further)
    )
    assert "Measure all below 25.0 mL as a dilution, as above." in further


def test_a_policy_of_one_trim_leaves_no_further_doses_to_list(small_site):
    policy = small_policy()
    once = replace(policy, trim=replace(policy.trim, max_trims=1))
    site = small_site(recipe(("kelp", 2)), policy=once)
    assert far_doses_ml(site, 180.0) == (9.0,)
    further = [line.text for line in by_hand_card(site, "feed", 180.0, 100.0).lines if line.act is Act.TRIM][
        1
    ]
    assert "as much again" not in further
    assert "At most 1 dose and" in further


def test_the_demo_card_reaches_to_the_cap_of_its_policy(demo_site):
    doses = far_doses_ml(demo_site, 180.0)
    assert math.fsum(doses) == pytest.approx(demo_site.policy.trim.cap_ml_l * 180.0)
    assert len(doses) <= demo_site.policy.trim.max_trims
