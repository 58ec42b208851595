"""Millilitres and motor counts of one pump."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.measure.metering import (
    DoseBelowFloor,
    PaceOutOfRange,
    counts_for,
    dose_uncertainty_ml,
    ml_for,
    pace_counts_per_s,
    whole_roller_counts,
)
from controller.settings.values import Pump

PUMP = Pump(
    name="citric",
    channel=3,
    ml_per_count=0.0005,
    counts_per_roller=400,
    max_ml_min=60.0,
    min_dose_ml=1.0,
    night_cap_ml=400.0,
)

pumps = st.builds(
    Pump,
    name=st.just("any"),
    channel=st.just(0),
    ml_per_count=st.floats(1e-5, 0.1),
    counts_per_roller=st.integers(1, 2000),
    max_ml_min=st.floats(10.0, 500.0),
    min_dose_ml=st.floats(0.1, 5.0),
    night_cap_ml=st.just(1000.0),
)


@given(pump=pumps, ml=st.floats(5.0, 2000.0))
def test_counts_give_back_the_dose_within_half_a_count(pump: Pump, ml: float) -> None:
    counts = counts_for(pump, ml)
    assert abs(ml - ml_for(pump, counts)) <= pump.ml_per_count / 2.0 * (1.0 + 1e-9)


@given(pump=pumps, counts=st.integers(10**6, 10**8))
def test_counts_survive_the_way_to_millilitres_and_back(pump: Pump, counts: int) -> None:
    assert counts_for(pump, ml_for(pump, counts)) == counts


def test_the_smallest_dose_is_metered_and_anything_below_is_refused() -> None:
    assert counts_for(PUMP, 1.0) == 2000
    with pytest.raises(DoseBelowFloor, match=r"citric: 0\.99 mL is below the smallest dose .* 1 mL"):
        counts_for(PUMP, 0.99)


@given(pump=pumps, share=st.floats(0.0, 0.999))
def test_no_dose_below_the_floor_is_ever_raised_to_it(pump: Pump, share: float) -> None:
    with pytest.raises(DoseBelowFloor):
        counts_for(pump, pump.min_dose_ml * share)
    with pytest.raises(DoseBelowFloor):
        whole_roller_counts(pump, pump.min_dose_ml * share)


@pytest.mark.parametrize("ml", [math.nan, math.inf, -math.inf])
def test_an_amount_that_is_no_number_is_refused(ml: float) -> None:
    with pytest.raises(ValueError, match="not a finite number"):
        counts_for(PUMP, ml)
    with pytest.raises(ValueError, match="not a finite number"):
        pace_counts_per_s(PUMP, ml)


def test_negative_counts_and_doses_are_refused() -> None:
    with pytest.raises(ValueError, match="negative"):
        ml_for(PUMP, -1)
    with pytest.raises(ValueError, match="negative"):
        dose_uncertainty_ml(PUMP, -1.0)


@given(pump=pumps, ml=st.floats(5.0, 500.0))
def test_whole_rollers_are_whole_and_the_nearest(pump: Pump, ml: float) -> None:
    counts = whole_roller_counts(pump, ml)
    assert counts > 0
    assert counts % pump.counts_per_roller == 0
    roller = pump.counts_per_roller * pump.ml_per_count
    assert abs(ml_for(pump, counts) - ml) <= max(roller / 2.0 * (1.0 + 1e-9), roller - ml)


def test_uncertainty_is_one_roller_and_a_share_of_the_dose() -> None:
    # One roller of this pump: 400 counts x 0.0005 mL = 0.2 mL.
    assert dose_uncertainty_ml(PUMP, 0.0) == pytest.approx(0.2)
    assert dose_uncertainty_ml(PUMP, 100.0, share=0.02) == pytest.approx(2.2)


def test_pace_in_counts_per_second() -> None:
    # 60 mL/min = 1 mL/s = 2000 counts of 0.0005 mL a second.
    assert pace_counts_per_s(PUMP, 60.0) == 2000
    assert pace_counts_per_s(PUMP, 0.05) == 1


@given(pump=pumps, share=st.floats(0.7, 1.0))
def test_the_pace_never_exceeds_what_was_asked(pump: Pump, share: float) -> None:
    ml_min = pump.max_ml_min * share
    counts = pace_counts_per_s(pump, ml_min)
    assert counts * pump.ml_per_count * 60.0 <= ml_min * (1.0 + 1e-9)
    assert (counts + 1) * pump.ml_per_count * 60.0 > ml_min


def test_a_pace_too_fast_or_too_slow_is_refused() -> None:
    with pytest.raises(PaceOutOfRange, match=r"61 mL/min is above its fastest pace, 60 mL/min"):
        pace_counts_per_s(PUMP, 61.0)
    with pytest.raises(PaceOutOfRange, match="slower than one count a second"):
        pace_counts_per_s(PUMP, 0.01)
