"""What earlier nights and a jar test are worth tonight, and where trims aim before pH rises."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from trimmed_night import ACID, BASE, POLICY, TANK_L

from controller.measure.buffering import Direction, Titration
from controller.measure.trim import Add, TrimState, decide, reading_doubt_ph
from controller.measure.trim_history import NO_HISTORY, TrimHistory, lowered

NIGHT = (Titration(Direction.DOWN, 0.3, 7.4, 6.6), Titration(Direction.DOWN, 0.2, 6.6, 6.1, 0.3))
JAR = Titration(Direction.DOWN, 0.6, 7.5, 6.0)
HISTORY = TrimHistory(NIGHT, "batch 12", temperature_c=18.0, ec_us_cm=1000.0, jar=JAR)


def first_dose_ml(history: TrimHistory, *, temperature_c: float = 18.0, ec_us_cm: float = 1000.0) -> float:
    decision = decide(
        TrimState(),
        7.4,
        window=(5.9, 6.2),
        tank_l=TANK_L,
        policy=POLICY,
        acid=ACID,
        base=BASE,
        acid_min_ml=0.5,
        base_min_ml=0.5,
        remembered=history.usable(ec_us_cm),
        remembered_apart_k=history.apart_k(temperature_c),
    )
    assert isinstance(decision, Add)
    return decision.ml


def test_a_night_of_the_same_water_makes_the_first_dose_larger() -> None:
    assert first_dose_ml(HISTORY) > 3.0 * first_dose_ml(NO_HISTORY)


def test_the_further_away_in_temperature_the_less_is_dosed_on_trust() -> None:
    doses = [first_dose_ml(HISTORY, temperature_c=celsius) for celsius in (18.0, 23.0, 28.0)]
    assert doses[0] > doses[1] > doses[2]
    # 10 K move the pK of carbonic acid by some 0.075 (Plummer & Busenberg 1982), an amount by at most 19 %.
    assert doses[2] > doses[0] / 1.25


def test_a_tank_that_conducts_otherwise_is_not_the_remembered_one_and_the_record_says_so() -> None:
    assert HISTORY.usable(1400.0) == (JAR,)
    words = HISTORY.words(18.0, 1400.0)
    assert "batch 12 is not used: its tank conducted 1000 µS/cm, this one 1400" in words
    assert "jar test: 0.6 mL/L took pH from 7.50 to 6.00" in words


@pytest.mark.parametrize("ec_us_cm", [1000.0, 900.0, 1200.0, None])
def test_a_night_counts_before_a_jar_test(ec_us_cm: float | None) -> None:
    assert HISTORY.usable(ec_us_cm) == NIGHT
    assert HISTORY.words(20.0, ec_us_cm) == "batch 12, 2.0 K away: 0.500 mL/L took pH from 7.40 to 6.10"


def test_a_jar_test_counts_for_a_direction_that_no_night_has_tried() -> None:
    up = Titration(Direction.UP, 0.1, 5.0, 5.8)
    history = TrimHistory(NIGHT, "batch 12", jar=up)
    assert history.usable(None) == (*NIGHT, up)
    assert first_dose_ml(TrimHistory(jar=JAR)) > 3.0 * first_dose_ml(NO_HISTORY)


def test_nothing_remembered_is_nothing_said() -> None:
    assert NO_HISTORY.words(18.0, 1000.0) == ""
    assert NO_HISTORY.usable(1000.0) == ()
    assert NO_HISTORY.apart_k(18.0) == 0.0


def test_trims_aim_lower_by_the_rebound_and_keep_off_the_low_end() -> None:
    assert lowered((5.9, 6.2), 5.8, 0.04) == (5.86, 6.16)
    assert lowered((5.9, 6.2), 5.8, 0.1) == (5.85, 6.1)
    assert lowered((5.9, 6.2), 5.8, 0.9) == (5.85, 6.05)
    assert lowered((5.9, 6.2), 5.8, -0.1) == (5.9, 6.2)


@given(
    low=st.floats(4.0, 8.0), guard=st.floats(0.0, 0.2), width=st.floats(0.06, 1.0), up=st.floats(-1.0, 2.0)
)
def test_whatever_the_rebound_the_aim_stays_inside_the_recipes_window(
    low: float, guard: float, width: float, up: float
) -> None:
    aims = lowered((low + guard, low + guard + width), low, up)
    assert low - 0.006 <= aims[0] < aims[1] <= low + guard + width + 0.006


def test_the_doubt_of_a_reading_is_two_standard_uncertainties_and_never_nothing() -> None:
    assert reading_doubt_ph(0.008, POLICY) == pytest.approx(0.016)
    assert reading_doubt_ph(0.0001, POLICY) == pytest.approx(0.01)
    assert reading_doubt_ph(None, POLICY) == POLICY.stable_ph
