"""Amounts by label arithmetic. Gallons are pint's; the doses of the trade are common practice, no source."""

from __future__ import annotations

import math

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.plan.amounts import amount_ml, pours
from controller.plan.vessel import even_pours, measured

UNITS = pint.UnitRegistry()
TWENTY_US_GAL_L = float(UNITS("20 gallon").to("liter").magnitude)
US_GAL_L = float(UNITS("1 gallon").to("liter").magnitude)


@pytest.mark.parametrize(
    ("ml_per_gal", "expected_ml"),
    [
        (10.0, 200.0),  # 2 tsp of 5 mL per gallon; common practice, no source
        (15.0, 300.0),  # 1 tbsp of 15 mL per gallon; common practice, no source
        (30.0, 600.0),  # 2 tbsp per gallon; common practice, no source
        (20.0, 400.0),  # 1 tsp per quart; common practice, no source
    ],
)
def test_twenty_us_gallons_take_what_the_label_says(ml_per_gal, expected_ml):
    assert amount_ml(ml_per_gal / US_GAL_L, TWENTY_US_GAL_L) == pytest.approx(expected_ml, rel=1e-12)


def test_600_ml_in_a_500_ml_vessel_is_500_and_100():
    # Common practice, no source.
    assert pours(600.0, 500.0) == (500.0, 100.0)


@pytest.mark.parametrize(
    ("ml", "vessel_ml", "expected"),
    [
        (500.0, 500.0, (500.0,)),
        (1000.0, 500.0, (500.0, 500.0)),
        (30.0, 500.0, (30.0,)),
        (0.0, 500.0, ()),
        (0.3, 0.1, (0.1, 0.1, 0.1)),  # 0.3 // 0.1 is 2 in binary floats
    ],
)
def test_pours_are_full_vessels_and_then_the_rest(ml, vessel_ml, expected):
    assert pours(ml, vessel_ml) == pytest.approx(expected)


@pytest.mark.parametrize(
    ("ml", "vessel_ml"),
    [(-1.0, 500.0), (1.0, 0.0), (1.0, -5.0), (math.nan, 5.0), (5.0, math.nan), (math.inf, 5.0)],
)
def test_pours_of_nonsense_are_refused(ml, vessel_ml):
    with pytest.raises(ValueError, match="cannot pour"):
        pours(ml, vessel_ml)


@given(ml=st.floats(0.01, 20_000.0), vessel_ml=st.floats(50.0, 2_000.0))
def test_pours_add_up_and_none_is_larger_than_the_vessel(ml, vessel_ml):
    for split in (pours(ml, vessel_ml), even_pours(ml, vessel_ml)):
        assert math.fsum(split) == pytest.approx(ml, rel=1e-8)
        assert all(0 < pour <= vessel_ml * (1 + 1e-12) for pour in split)


def test_a_last_pour_too_small_to_read_is_shared_with_the_one_before():
    assert even_pours(1010.0, 500.0) == (500.0, 255.0, 255.0)


@given(ml=st.floats(0.001, 5_000.0), vessel_ml=st.floats(1.0, 2_000.0))
def test_every_pour_is_one_the_vessel_can_measure(ml, vessel_ml):
    how = measured(ml, vessel_ml)
    assert min(how.pours_ml) >= 0.05 * vessel_ml * (1 - 1e-9)
    assert math.fsum(how.pours_ml) == pytest.approx(ml * how.dilution, rel=1e-8)
    assert how.dilution == 10**how.dilution_steps
