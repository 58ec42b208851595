"""What planning says has plain digits and a fitting unit, never an exponent."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from small_site import UNREACHABLE_ML, recipe

from controller.plan.batch import PlanRefused, plan_batch
from controller.plan.by_hand import by_hand_card
from controller.plan.tonight import tonight_from
from controller.plan.words import ml_words, plain_l, plain_ml, plain_rate
from controller.settings.numbers import plain_number


@pytest.mark.parametrize(
    ("words", "written"),
    [
        (plain_ml(1_000_000.0), "1000 L"),
        (plain_ml(1800.0), "1800 mL"),
        (plain_ml(0.0001), "0.0001 mL"),
        (plain_ml(450.0), "450 mL"),
        (plain_l(90_000.0), "90000 L"),
        (plain_l(1_234_567.8), "1234568 L"),
        (plain_rate(3.9626), "3.96 mL/L"),
        (plain_rate(0.00001), "0.00001 mL/L"),
        (ml_words(0.025), "0.025 mL"),
        (ml_words(15.0), "15.0 mL"),
        (ml_words(450_000.0), "450.00 L"),
    ],
)
def test_an_amount_is_written_with_plain_digits_and_the_unit_that_fits(words, written):
    assert words == written


@given(value=st.floats(1e-12, 1e12), figures=st.integers(1, 8))
def test_a_plain_number_reads_back_to_as_many_figures_as_asked(value, figures):
    text = plain_number(value, figures)
    assert re.fullmatch(r"[0-9]+(\.[0-9]*[1-9])?", text)
    assert math.isclose(float(text), value, rel_tol=0.51 * 10.0 ** (1 - figures))


EXPONENT = re.compile(r"[0-9]e[+-]?[0-9]")


@pytest.mark.parametrize("vessel_ml", [1e-9, 2e6])
def test_no_refusal_of_a_vessel_has_an_exponent(small_site, vessel_ml):
    with pytest.raises(PlanRefused) as caught:
        by_hand_card(small_site(), "feed", 180.0, vessel_ml)
    assert not EXPONENT.search(str(caught.value))


def test_no_refusal_of_a_night_has_an_exponent(small_site):
    site = small_site(recipe(("kelp", 200)))
    with pytest.raises(PlanRefused) as caught:
        plan_batch(site, "feed", replace(tonight_from(site), final_l=3e6, heel_l=1.5e6))
    assert len(caught.value.faults) > 3
    assert not EXPONENT.search(str(caught.value))


def test_two_amounts_that_are_nearly_alike_are_told_apart(small_site):
    site = small_site(recipe(("kelp", 2)))
    with pytest.raises(PlanRefused, match=r"359\.99 mL within reach .* 360 mL needed"):
        plan_batch(site, "feed", replace(tonight_from(site), stock_ml={"kelp": 359.99 + UNREACHABLE_ML}))
