"""The card for mixing without the rig. How a batch is mixed by hand is common practice, no source."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from small_site import liquid, recipe
from small_site import small_site as build

from controller.plan.batch import PlanRefused
from controller.plan.by_hand import by_hand_card, card_text
from controller.plan.card import Act
from controller.plan.findings import Rule

# Common practice, no source: 20 US gallons, 1 and 2 tablespoons of 15 mL per gallon.
TWENTY_US_GAL_L = 75.70823568
TBSP_PER_GAL_ML_L = 15.0 / 3.785411784


def lines_of(card, act, name=None):
    return [line for line in card.lines if line.act is act and (name is None or line.input == name)]


def test_two_tablespoons_a_gallon_on_twenty_gallons_is_500_and_100(small_site):
    site = small_site(recipe(("kelp", 2 * TBSP_PER_GAL_ML_L)))
    card = by_hand_card(site, "feed", TWENTY_US_GAL_L, 500.0)
    (line,) = lines_of(card, Act.MEASURE)
    assert line.input_ml == pytest.approx(600.0)
    assert line.pours_ml == pytest.approx((500.0, 100.0))
    assert "600 mL of kelp liquid, in pours: 500 mL + 100 mL" in line.text


def test_each_input_is_shaken_measured_diluted_added_rinsed_and_stirred_in_that_order(small_site):
    card = by_hand_card(small_site(), "feed", 180.0, 500.0)
    for name in ("fish", "kelp", "gypsum", "soap", "tea"):
        acts = [line.act for line in card.lines if line.input == name]
        assert acts == [Act.SHAKE, Act.MEASURE, Act.DILUTE, Act.ADD, Act.RINSE, Act.STIR]


def test_ph_comes_after_all_that_is_dead_and_before_all_that_lives(small_site):
    card = by_hand_card(small_site(), "feed", 180.0, 500.0)
    acts = [(line.act, line.input) for line in card.lines]
    read = acts.index((Act.READ_PH, None))
    assert acts.index((Act.MEASURE, "soap")) < acts.index((Act.TOP_UP, None)) < read
    assert read < acts.index((Act.TRIM, "vinegar")) < acts.index((Act.MEASURE, "tea"))
    assert acts[-1] == (Act.USE, None)


def test_what_settles_or_lives_is_shaken_and_a_foamer_only_turned_over(small_site):
    card = by_hand_card(small_site(), "feed", 180.0, 500.0)
    for name in ("fish", "gypsum", "tea"):
        assert lines_of(card, Act.SHAKE, name)[0].text.startswith("Shake ")
    assert "gently" in lines_of(card, Act.SHAKE, "soap")[0].text


def test_a_foamer_and_a_living_input_carry_their_cautions(small_site):
    card = by_hand_card(small_site(), "feed", 180.0, 500.0)
    assert "no air from now on" in lines_of(card, Act.ADD, "soap")[0].text
    assert "alive" in lines_of(card, Act.ADD, "tea")[0].text
    assert lines_of(card, Act.ADD, "kelp")[0].text == "Pour it slowly into the stirred tank."


def test_after_a_trim_a_slow_base_is_stirred_until_it_has_dissolved_and_then_settles(small_site):
    card = by_hand_card(small_site(), "feed", 180.0, 500.0)
    # The base is a suspension: twice the least 30 s, and 900 s more to dissolve; then the settle of 300 s.
    assert (
        "add, stir for 16 min, let it stand for 5 min and read again"
        in lines_of(card, Act.TRIM, "lime")[0].text
    )
    assert (
        "add, stir for 30 s, let it stand for 5 min and read again"
        in lines_of(card, Act.TRIM, "vinegar")[0].text
    )


def test_a_suspension_is_stirred_twice_as_long(small_site):
    card = by_hand_card(small_site(), "feed", 180.0, 500.0)
    assert "60 s" in lines_of(card, Act.STIR, "fish")[0].text
    assert "30 s" in lines_of(card, Act.STIR, "kelp")[0].text


def test_an_amount_is_diluted_one_in_twenty_before_it_meets_the_tank(small_site):
    card = by_hand_card(small_site(recipe(("kelp", 2))), "feed", 180.0, 500.0)
    (line,) = lines_of(card, Act.DILUTE)
    assert line.water_ml == pytest.approx(360.0 * 19.0)
    assert Rule.DILUTION not in {warning.rule for warning in card.warnings}


def test_too_little_water_for_that_is_said_aloud(small_site):
    thick = [liquid("kelp", label_high_ml_l=100.0)]
    card = by_hand_card(small_site(recipe(("kelp", 50)), inputs=thick), "feed", 10.0, 500.0)
    assert Rule.DILUTION in {warning.rule for warning in card.warnings}


def test_an_amount_too_small_for_the_vessel_is_diluted_first(small_site):
    # 2 mL in a 50 mL vessel is below 5 % of it: 5 mL made up to 50 mL is 1 in 10, and 20 mL of that holds 2.
    card = by_hand_card(small_site(recipe(("kelp", 2))), "feed", 1.0, 50.0)
    (line,) = lines_of(card, Act.MEASURE)
    assert line.input_ml == pytest.approx(2.0)
    assert line.pours_ml == pytest.approx((20.0,))
    assert "dilute it 1 in 10 (5.00 mL filled up to 50.0 mL with water)" in line.text
    assert "take 20.0 mL of the dilution" in line.text


def test_a_vessel_far_too_large_is_refused_with_one_that_does(small_site):
    with pytest.raises(PlanRefused) as caught:
        by_hand_card(small_site(), "feed", 1.0, 5_000.0)
    (fault,) = caught.value.faults
    assert fault.rule is Rule.VESSEL
    assert "at most 20 mL" in fault.remedy
    assert by_hand_card(small_site(), "feed", 1.0, 20.0).lines


def test_pours_without_number_ask_for_a_larger_vessel(small_site):
    card = by_hand_card(small_site(recipe(("kelp", 2))), "feed", 180.0, 10.0)
    assert Rule.VESSEL in {warning.rule for warning in card.warnings}


@pytest.mark.parametrize(
    ("volume_l", "vessel_ml"),
    [(0.0, 500.0), (-1.0, 500.0), (math.nan, 500.0), (180.0, 0.0), (180.0, math.inf)],
)
def test_nonsense_is_refused(small_site, volume_l, vessel_ml):
    with pytest.raises(PlanRefused) as caught:
        by_hand_card(small_site(), "feed", volume_l, vessel_ml)
    assert {fault.rule for fault in caught.value.faults} == {Rule.FIGURES}


def test_order_and_label_hold_by_hand_too(small_site):
    site = small_site(recipe(("tea", 5), ("kelp", 200)))
    with pytest.raises(PlanRefused) as caught:
        by_hand_card(site, "feed", 10.0, 100.0)
    assert {fault.rule for fault in caught.value.faults} == {Rule.LIVING_LAST, Rule.FACTOR_OF_TEN}


def test_calcium_and_phosphate_share_no_unrinsed_vessel(small_site):
    site = small_site(recipe(("gypsum", 2), ("phosphate", 2)))
    (warning,) = [one for one in by_hand_card(site, "feed", 10.0, 100.0).warnings if one.rule is Rule.CALCIUM]
    assert "rinse it well between them" in warning.text


def test_a_flush_is_water_and_ph_only(small_site):
    card = by_hand_card(small_site(), "flush", 20.0, 500.0)
    assert [line.act for line in card.lines] == [Act.WATER, Act.TOP_UP, Act.SETTLE, Act.READ_PH, Act.USE]


def test_the_text_numbers_every_line_and_wraps_it(small_site):
    card = by_hand_card(small_site(), "feed", 180.0, 500.0)
    text = card_text(card)
    assert text.startswith("A feed: 180.00 L by hand, with a 500 mL vessel\n")
    assert sum(row.startswith("[ ]") for row in text.splitlines()) == len(card.lines)
    assert max(len(row) for row in text.splitlines()) <= 88


@settings(max_examples=80, deadline=None)
@given(
    volume_l=st.floats(1.0, 1_000.0),
    vessel_ml_l=st.floats(0.5, 100.0),
    rates=st.lists(st.floats(1.0, 10.0), min_size=1, max_size=4),
)
def test_all_that_goes_in_by_hand_adds_up_to_the_volume(volume_l, vessel_ml_l, rates):
    vessel_ml = vessel_ml_l * volume_l
    names = ("kelp", "fish", "soap", "tea")[-len(rates) :]
    site = build(recipe(*zip(names, rates, strict=True)))
    card = by_hand_card(site, "feed", volume_l, vessel_ml)
    assert all(line.water_ml >= 0 and line.input_ml >= 0 for line in card.lines)
    total_ml = math.fsum(line.water_ml + line.input_ml for line in card.lines)
    assert total_ml == pytest.approx(volume_l * 1000.0, rel=1e-12)
    amounts = [line.input_ml for line in card.lines if line.act is Act.MEASURE]
    assert amounts == pytest.approx([rate * volume_l for rate in rates])
