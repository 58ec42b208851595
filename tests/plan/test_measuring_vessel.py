"""Measuring vessels: too many pours are refused before one is made, and a fitting vessel is chosen.

What is measured in which vessel is common practice, no source.
"""

from __future__ import annotations

import re

import pytest
from hypothesis import assume, example, given
from hypothesis import strategies as st
from small_site import recipe
from small_site import small_site as build

from controller.plan.batch import PlanRefused
from controller.plan.by_hand import by_hand_card
from controller.plan.card import Act
from controller.plan.findings import Rule
from controller.plan.measure_words import dose_words, pours_words
from controller.plan.vessel_choice import fitting_vessel_ml


def refusal(site, volume_l, vessel_ml):
    with pytest.raises(PlanRefused) as caught:
        by_hand_card(site, "feed", volume_l, vessel_ml)
    (fault,) = caught.value.faults
    assert fault.rule is Rule.VESSEL
    return fault


@pytest.mark.parametrize("vessel_ml", [1e-300, 0.0001, 7.1])
def test_more_than_fifty_pours_are_refused_and_the_smallest_vessel_that_works_is_named(small_site, vessel_ml):
    fault = refusal(small_site(recipe(("kelp", 2))), 180.0, vessel_ml)
    assert "more than 50 pours for 360 mL of kelp" in fault.value
    assert fault.remedy == "take a vessel of at least 7.2 mL"


def test_fifty_pours_are_made_and_counted(small_site):
    card = by_hand_card(small_site(recipe(("kelp", 2))), "feed", 180.0, 7.2)
    (line,) = [line for line in card.lines if line.act is Act.MEASURE]
    assert len(line.pours_ml) == 50
    assert line.text.endswith("in pours: 50 x 7.20 mL.")
    assert len(line.text) < 100


def test_the_largest_trim_dose_counts_as_well(small_site):
    # A flush adds nothing; its trims give 9, 9, 18, 36 and 72 mL.
    flush = build(recipe(name="feed"))
    assert "for 72.0 mL of vinegar" in refusal(flush, 180.0, 1.0).value
    assert by_hand_card(flush, "feed", 180.0, 1.5).lines


@example(volume_l=1.0, rate=1.1, vessel_ml=0.015625)
@given(volume_l=st.floats(1.0, 500.0), rate=st.floats(1.0, 10.0), vessel_ml=st.floats(1e-6, 10.0))
def test_a_vessel_that_a_refusal_names_is_never_refused_for_its_pours(volume_l, rate, vessel_ml):
    site = build(recipe(("kelp", rate)))
    assume(volume_l * rate > 50.0 * vessel_ml)
    named = re.search(r"at least ([0-9.]+) (m?L)$", refusal(site, volume_l, vessel_ml).remedy)
    named_ml = float(named[1]) * (1.0 if named[2] == "mL" else 1000.0)
    assert volume_l * rate / 50.0 * (1 - 1e-9) <= named_ml <= volume_l * rate / 50.0 * 1.1
    assert by_hand_card(site, "feed", volume_l, named_ml).lines


def test_equal_pours_are_counted_and_not_repeated():
    assert pours_words((60.0,) * 12 + (15.0,)) == "12 x 60.0 mL + 15.0 mL"
    assert pours_words((500.0, 255.0, 255.0)) == "500 mL + 2 x 255 mL"
    assert pours_words((500.0, 100.0)) == "500 mL + 100 mL"


def test_a_dose_too_small_for_the_vessel_is_told_as_its_dilution():
    assert dose_words(9.0, 500.0) == "9.00 mL (90.0 mL of the dilution 1 in 10)"
    assert dose_words(25.0, 500.0) == "25.0 mL"


@pytest.mark.parametrize(
    ("lines", "volume_l", "vessel_ml"),
    [
        ((("kelp", 2), ("tea", 5)), 180.0, 500.0),  # 360 and 900 mL: the usual jug
        ((("kelp", 2), ("tea", 5)), 2_000.0, 1000.0),  # 4 and 10 L: fewest pours
        ((("kelp", 2), ("tea", 5)), 10.0, 250.0),  # 20 mL is 8 % of 250 mL
        ((("kelp", 2), ("tea", 5)), 1.0, 25.0),  # 2 mL is 8 % of 25 mL
        ((("kelp", 1), ("tea", 5)), 0.01, 10.0),  # nothing measures 0.01 mL
        ((("kelp", 2), ("tea", 5)), 90_000.0, 1000.0),  # 450 L: none will do, the largest comes nearest
        ((), 180.0, 100.0),  # a first trim of 9 mL
        ((), 1.0, 10.0),  # a first trim of 0.05 mL: diluted once and not three times
    ],
)
def test_a_vessel_is_chosen_that_measures_all_amounts_in_few_pours(small_site, lines, volume_l, vessel_ml):
    site = small_site(recipe(*lines))
    assert fitting_vessel_ml(site, site.recipes["feed"], volume_l) == vessel_ml


@given(volume_l=st.floats(0.25, 5_000.0), rates=st.lists(st.floats(1.0, 10.0), max_size=4))
def test_the_chosen_vessel_is_never_refused(volume_l, rates):
    names = ("kelp", "fish", "soap", "tea")[: len(rates)]
    site = build(recipe(*zip(names, rates, strict=True)))
    assert by_hand_card(site, "feed", volume_l, fitting_vessel_ml(site, site.recipes["feed"], volume_l)).lines


@pytest.mark.parametrize("volume_l", [0.5, 1.0, 3.785, 20.0, 180.0, 1_000.0, 5_000.0])
def test_every_demo_recipe_has_a_card_for_any_volume_in_the_vessel_chosen(demo_site, volume_l):
    for name, chosen in demo_site.recipes.items():
        card = by_hand_card(demo_site, name, volume_l, fitting_vessel_ml(demo_site, chosen, volume_l))
        assert max((len(line.pours_ml) for line in card.lines), default=0) <= 30
