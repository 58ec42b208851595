"""Whether an amount has arrived, by level: against Student's t of another library, and at its limits."""

from __future__ import annotations

import math
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from controller.measure.arrived import (
    DECIDE,
    LEAST_LOOKS,
    SURE,
    LevelWindow,
    Moved,
    StillLevel,
    Verdict,
    judge,
    smallest_told_l,
)

LITRES_PER_MM = math.pi / 4 * 0.6**2
DOSE = Moved("molasses", "molasses", 713.0, 15.0)
RINSE = Moved("rinse water", "rinse_water", 60.0, 1.7)


def window(levels: list[float]) -> LevelWindow:
    seen = LevelWindow(LITRES_PER_MM)
    for level_l in levels:
        seen.add(level_l)
    return seen


def at(level_l: float, doubt_l: float = 0.02, sinking_l: float = 0.0) -> StillLevel:
    return StillLevel(level_l, doubt_l, sinking_l)


def test_a_window_gives_the_mean_and_the_spread_of_students_t_about_it() -> None:
    levels = [100.0 + 0.1 * math.sin(index * 2.4) for index in range(16)]
    mean = window(levels).mean()
    assert mean is not None
    error_l = float(stats.sem(levels)) * float(stats.t(15).std())
    step_l = 0.1 * LITRES_PER_MM / math.sqrt(12.0)
    assert mean.mean_l == pytest.approx(math.fsum(levels) / 16)
    assert mean.doubt_l == pytest.approx(math.hypot(error_l, step_l), rel=1e-9)


def test_readings_that_are_all_alike_are_believed_no_further_than_a_step_of_the_board() -> None:
    mean = window([100.0] * 16).mean()
    assert mean is not None
    assert mean.doubt_l == pytest.approx(0.1 * LITRES_PER_MM / math.sqrt(12.0))


def test_a_few_readings_give_no_mean() -> None:
    assert window([100.0] * (LEAST_LOOKS - 1)).mean() is None
    assert window([100.0] * LEAST_LOOKS).mean() is not None


def test_by_chance_a_difference_of_two_looks_is_told_less_than_once_in_20000() -> None:
    # A difference of two means of 16 readings, in their own standard errors, follows t with 30 degrees.
    widened = math.sqrt(15 / 13)
    assert float(stats.t(30).sf(DECIDE * widened)) < 1 / 20_000


def test_nothing_is_told_of_looks_that_differ_by_their_noise_alone() -> None:
    chance = Random(5)
    told = 0
    for _ in range(3000):
        looks = [window([chance.gauss(120.0, 0.085) for _ in range(16)]).mean() for _ in range(2)]
        assert looks[0] is not None
        assert looks[1] is not None
        told += judge(looks[0], looks[1], ()).verdict in (Verdict.MISSING, Verdict.MORE)
    assert told == 0


@pytest.mark.parametrize(
    ("rise_l", "verdict"),
    [(0.713, Verdict.ARRIVED), (0.0, Verdict.MISSING), (0.35, Verdict.MISSING), (1.1, Verdict.MORE)],
)
def test_a_dose_arrived_is_missing_or_is_more(rise_l: float, verdict: Verdict) -> None:
    arrival = judge(at(120.0), at(120.0 + rise_l), [DOSE])
    assert arrival.verdict is verdict
    assert arrival.wanted_l == pytest.approx(0.713)
    assert arrival.missing_l == pytest.approx(0.713 - rise_l)


def test_the_doubt_is_that_of_looks_counts_and_level_together() -> None:
    # Worked by hand: looks 0.02 and 0.03; 15 mL and 3 x 1.7 mL of one pump, each over k = 2; 1 %.
    arrival = judge(at(120.0, 0.02), at(120.9, 0.03), [DOSE, RINSE, RINSE, RINSE])
    counts_l = math.sqrt(15.0**2 + 5.1**2) / 2.0 / 1000.0
    assert arrival.doubt_l == pytest.approx(math.sqrt(0.02**2 + 0.03**2 + counts_l**2 + 0.00893**2))


def test_a_loss_of_the_smallest_size_is_told_in_98_nights_of_100() -> None:
    # At the limit the shortfall is spread about DECIDE + SURE doubts: normal, one-sided.
    assert float(stats.norm.cdf(SURE)) > 0.977
    assert smallest_told_l(0.05) == pytest.approx((DECIDE + SURE) * 0.05)


def test_an_amount_too_small_to_be_missed_is_not_called_arrived() -> None:
    small = Moved("soapbark_extract", "soapbark", 90.0, 2.0)
    assert judge(at(120.0), at(120.09), [small]).verdict is Verdict.CANNOT_TELL


@given(rise_l=st.floats(-5.0, 5.0))
def test_where_something_foams_a_rise_proves_nothing_and_a_loss_still_shows(rise_l: float) -> None:
    clear = judge(at(120.0), at(120.0 + rise_l), [DOSE]).verdict
    foamy = judge(at(120.0), at(120.0 + rise_l), [DOSE], foams=True).verdict
    assert foamy is (Verdict.MISSING if clear is Verdict.MISSING else Verdict.CANNOT_TELL)


def test_foam_that_still_sinks_is_doubt() -> None:
    assert judge(at(120.0), at(120.4), [DOSE], foams=True).verdict is Verdict.MISSING
    assert judge(at(120.0, sinking_l=0.3), at(120.4), [DOSE], foams=True).verdict is Verdict.CANNOT_TELL
    assert judge(at(120.0), at(120.4, sinking_l=0.3), [DOSE], foams=True).verdict is Verdict.CANNOT_TELL
