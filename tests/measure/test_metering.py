"""Millilitres and motor counts of one pump."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date
from random import Random

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from controller.measure.metering import (
    DoseBelowFloor,
    PaceOutOfRange,
    calibration_share,
    counts_for,
    dose_uncertainty_ml,
    ml_for,
    pace_counts_per_s,
    whole_roller_counts,
    whole_roller_ml,
)
from controller.measure.pulsation import pulsation_sd_ml
from controller.settings.values import Pump
from sim.pumping.pump import PeristalticPump

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
    start_ml=st.floats(-0.04, 0.3),
    pulsation_share=st.one_of(st.none(), st.floats(0.0, 1.0)),
)


def expected_square_ml2(pump: Pump, counts: int, ml: float) -> float:
    """The mean over a thousand start angles of the squared error, the pulsation taken as a sine."""
    share = 0.25 if pump.pulsation_share is None else pump.pulsation_share
    ahead_ml = share / 2.0 * pump.counts_per_roller * pump.ml_per_count
    errors_ml = []
    for step in range(1000):
        start, turned = step / 1000.0, counts / pump.counts_per_roller
        ripple = math.sin(2.0 * math.pi * (start + turned)) - math.sin(2.0 * math.pi * start)
        errors_ml.append(pump.start_ml + counts * pump.ml_per_count + ahead_ml * ripple - ml)
    return math.fsum(error**2 for error in errors_ml) / len(errors_ml)


few_counts = st.builds(
    replace,
    st.just(PUMP),
    ml_per_count=st.floats(0.005, 0.1),
    counts_per_roller=st.integers(1, 12),
    start_ml=st.floats(-0.1, 0.3),
    pulsation_share=st.one_of(st.none(), st.floats(0.0, 1.0)),
)


@settings(max_examples=40)
@given(pump=few_counts, ml=st.floats(1.0, 30.0))
def test_no_other_counts_within_two_rollers_have_a_smaller_expected_error(pump: Pump, ml: float) -> None:
    chosen = counts_for(pump, ml)
    best_ml2 = expected_square_ml2(pump, chosen, ml)
    for counts in range(max(1, chosen - 2 * pump.counts_per_roller), chosen + 2 * pump.counts_per_roller + 1):
        assert best_ml2 <= expected_square_ml2(pump, counts, ml) + 1e-9


@given(pump=pumps, ml=st.floats(5.0, 2000.0))
def test_counts_lie_between_the_nearest_count_and_the_nearest_whole_roller(pump: Pump, ml: float) -> None:
    wanted = (ml - pump.start_ml) / pump.ml_per_count
    off_counts = abs(counts_for(pump, ml) - wanted)
    whole = round(wanted / pump.counts_per_roller) * pump.counts_per_roller
    assert off_counts <= max(abs(whole - wanted), 0.5, 1.0 - wanted) + 1e-6
    assert counts_for(pump, ml) >= 1


@given(pump=pumps, ml=st.floats(5.0, 2000.0))
def test_a_pump_that_does_not_pulsate_takes_the_nearest_count(pump: Pump, ml: float) -> None:
    even = replace(pump, pulsation_share=0.0)
    counts = counts_for(even, ml)
    assert abs(ml - ml_for(even, counts)) <= pump.ml_per_count / 2.0 * (1.0 + 1e-6) or counts == 1


def test_a_pump_that_pulsates_strongly_is_drawn_to_whole_rollers_and_an_even_one_is_not() -> None:
    """Ten rollers and a quarter of 0.2 mL: 2.05 mL. A roller's whole volume is the common rule of thumb."""
    assert counts_for(replace(PUMP, pulsation_share=1.0), 2.05) < 4030
    assert counts_for(replace(PUMP, pulsation_share=0.1), 2.05) > 4090
    assert counts_for(replace(PUMP, pulsation_share=1.0), 2.0) == 4000


@given(pump=pumps, rollers=st.integers(50, 1000))
def test_counts_of_whole_rollers_survive_the_way_to_millilitres_and_back(pump: Pump, rollers: int) -> None:
    counts = rollers * pump.counts_per_roller
    assume(ml_for(pump, counts) >= pump.min_dose_ml)
    assert counts_for(pump, ml_for(pump, counts)) == counts


def test_what_a_start_gives_beyond_its_counts_is_taken_off_them() -> None:
    """0.1 mL at each start: 10 mL are 9.9 mL of counts; the line of the calibration has an intercept."""
    generous = replace(PUMP, start_ml=0.1, pulsation_share=0.0)
    assert counts_for(generous, 10.0) == 19_800
    assert ml_for(generous, 19_800) == pytest.approx(10.0)
    assert ml_for(generous, 0) == 0.0
    assert ml_for(replace(PUMP, start_ml=-0.5), 10) == 0.0


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
    roller_ml = pump.counts_per_roller * pump.ml_per_count
    assert abs(ml_for(pump, counts) - ml) <= max(
        roller_ml / 2.0 * (1.0 + 1e-9), ml_for(pump, pump.counts_per_roller) - ml
    )


@given(pump=pumps, ml=st.floats(5.0, 500.0))
def test_an_amount_of_whole_rollers_is_counted_in_whole_rollers(pump: Pump, ml: float) -> None:
    whole_ml = whole_roller_ml(pump, ml)
    assert whole_ml >= pump.min_dose_ml
    assert counts_for(pump, whole_ml) % pump.counts_per_roller == 0
    assert pulsation_sd_ml(pump, counts_for(pump, whole_ml)) == pytest.approx(0.0, abs=1e-9)


def test_an_amount_of_whole_rollers_is_never_below_the_smallest_dose() -> None:
    """Rollers of 0.2 mL: five are 1 mL, and the nearest to 1.05 mL."""
    assert whole_roller_ml(PUMP, 1.05) == pytest.approx(1.0)
    assert whole_roller_ml(replace(PUMP, min_dose_ml=1.05), 1.05) == pytest.approx(1.2)
    with pytest.raises(DoseBelowFloor):
        whole_roller_ml(PUMP, 0.9)


def test_uncertainty_is_the_root_of_the_sum_of_squares_times_two() -> None:
    """JCGM 100:2008, 5.1.2 and 6.2. By hand for 10.1 mL: 50 rollers and a half of 0.2 mL."""
    dated = replace(PUMP, calibrated=date(2026, 11, 1), pulsation_share=0.2)
    pulsation_ml = 0.2 / math.sqrt(2.0) * 0.2
    parts_ml = (
        pulsation_ml,
        0.005 * 10.1,
        0.025 / math.sqrt(3.0),
        0.003 * 10.1,
        0.03 / math.sqrt(3.0) * 10.1,
    )
    assert dose_uncertainty_ml(dated, 10.1) == pytest.approx(2.0 * math.hypot(*parts_ml))
    assert dose_uncertainty_ml(dated, 10.1, share=0.0) == pytest.approx(2.0 * math.hypot(*parts_ml[:3]))
    assert dose_uncertainty_ml(dated, 0.0) == 0.0


def test_an_amount_between_two_counts_is_more_doubtful_by_what_is_between() -> None:
    coarse = replace(PUMP, ml_per_count=0.5, counts_per_roller=8, pulsation_share=0.0)
    whole_ml, between_ml = dose_uncertainty_ml(coarse, 10.0, 0.0), dose_uncertainty_ml(coarse, 10.25, 0.0)
    assert between_ml == pytest.approx(math.hypot(2.0 * 0.25, whole_ml), rel=0.01)


def test_a_pump_without_a_date_of_calibration_is_doubted_more() -> None:
    dated = replace(PUMP, calibrated=date(2026, 11, 1))
    assert calibration_share(PUMP) > 1.5 * calibration_share(dated)
    assert dose_uncertainty_ml(PUMP, 100.0) > 1.5 * dose_uncertainty_ml(dated, 100.0)


COUNTS_BEFORE = (0, 200_000, 3_000_000, 8_000_000)
"""New, run in, at half life and near its end; a tube loses up to a fifth in some ten million counts."""


@pytest.mark.parametrize("counts_before", COUNTS_BEFORE)
@pytest.mark.parametrize("ml", [0.9, 2.0, 7.0, 50.0])
def test_the_stated_uncertainty_covers_what_simulated_pumps_truly_give(counts_before: int, ml: float) -> None:
    """At least 95 of 100 (JCGM 100:2008, 6.3.3) of what a tube gives in the nights after its calibration.

    The simulator's head, written apart, is the outside truth: its pulsation is no sine, its tube wears on.
    """
    rng = Random(f"{counts_before} {ml}")
    pump = replace(
        PUMP, ml_per_count=0.02, counts_per_roller=8, min_dose_ml=0.8, calibrated=date(2026, 11, 1)
    )
    covered = 0
    for number in range(400):
        head = PeristalticPump(0.02, 8, number, "any", counts_before, rng.uniform(0.0, 8.0))
        # As a good weighing of 3000 counts finds it.
        found = replace(pump, ml_per_count=head.turn(3000) / 3000 * rng.gauss(1.0, 0.003))
        head.turn(rng.uniform(0.0, 400_000.0))
        head.begin_dose(number)
        counts = counts_for(found, ml)
        given_ml = head.turn(counts)
        covered += abs(given_ml - ml_for(found, counts)) <= dose_uncertainty_ml(found, ml_for(found, counts))
    assert covered >= 380


@pytest.mark.parametrize("ml", [2.0, 5.1, 50.0])
def test_with_a_known_tube_the_stated_uncertainty_is_neither_too_small_nor_a_mere_bound(ml: float) -> None:
    """A running estimate within 0.3 %: at least 95 of 100 are covered, and a third of it is too little."""
    rng = Random(f"known {ml}")
    fine = replace(PUMP, ml_per_count=0.02, counts_per_roller=8, min_dose_ml=0.8, pulsation_share=0.13)
    within = closer = 0
    for number in range(400):
        head = PeristalticPump(0.02, 8, number, "any", 3_000_000, rng.uniform(0.0, 8.0))
        found = replace(fine, ml_per_count=head.turn(8000) / 8000 * rng.gauss(1.0, 0.003))
        head.begin_dose(number)
        counts = counts_for(found, ml)
        off_ml = abs(head.turn(counts) - ml_for(found, counts))
        stated_ml = dose_uncertainty_ml(found, ml_for(found, counts), share=0.003)
        within += off_ml <= stated_ml
        closer += off_ml <= stated_ml / 3.0
    assert within >= 380
    assert closer < 380


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
