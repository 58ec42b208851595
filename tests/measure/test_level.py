"""Level and flow pulses as litres."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.measure.level import disagreement_l, level_mm_at, litres_at, litres_flowed
from controller.settings.values import Fill, Tank

TANK = Tank(
    diameter_m=0.6,
    working_l=180.0,
    low_float_l=10.0,
    high_float_l=190.0,
    second_high_float_l=195.0,
    brim_l=210.0,
)
FILL = Fill(rated_l_min=12.0, pipe_ml=300.0, pulses_per_l=450.0, disagreement_l=2.0)


def test_a_tank_of_60_cm_filled_to_70_cm_holds_198_litres() -> None:
    # pi/4 x 0.6 m x 0.6 m x 0.7 m = 0.19792 m3, worked by hand.
    assert litres_at(700.0, TANK) == pytest.approx(197.92, abs=0.005)


@given(contents_l=st.floats(0.0, 210.0))
def test_contents_survive_the_way_to_level_and_back(contents_l: float) -> None:
    assert litres_at(level_mm_at(contents_l, TANK), TANK) == pytest.approx(contents_l, rel=1e-12, abs=1e-12)


def test_pulses_are_litres_times_the_meter_constant() -> None:
    assert litres_flowed(450 * 30, FILL) == pytest.approx(30.0)


def test_level_and_flow_that_tell_the_same_do_not_disagree() -> None:
    rise_mm = level_mm_at(30.0, TANK)
    assert disagreement_l(rise_mm, 450 * 30, TANK, FILL) == pytest.approx(0.0, abs=1e-9)


def test_the_sign_of_a_disagreement_names_the_side_that_claims_more() -> None:
    rise_mm = level_mm_at(30.0, TANK)
    assert disagreement_l(rise_mm, 450 * 20, TANK, FILL) == pytest.approx(10.0)
    assert disagreement_l(rise_mm, 450 * 40, TANK, FILL) == pytest.approx(-10.0)
