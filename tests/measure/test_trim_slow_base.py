"""Trimming with a base that dissolves for hours: waiting instead of dosing, and doses that leave room."""

from __future__ import annotations

import random

import pytest
from titrated_water import TitratedWater, organic_water
from trimmed_night import BASE, LIMESTONE, POLICY, TANK_L, TrimmedNight, trim_night

from controller.measure.trim import (
    Add,
    Direction,
    InWindow,
    TrimDecision,
    TrimState,
    Wait,
    came,
    decide,
    learn,
    learn_wait,
)
from controller.measure.trim_stops import MOST_WAITS
from controller.settings.values import Input


def judge(state: TrimState, ph: float, base: Input = LIMESTONE) -> TrimDecision:
    return decide(
        state,
        ph,
        window=(5.9, 6.2),
        tank_l=TANK_L,
        policy=POLICY,
        acid=None,
        base=base,
        acid_min_ml=0.5,
        base_min_ml=0.5,
    )


def dosed(ph_before: float, ph_after: float) -> TrimState:
    return learn(
        TrimState(), Direction.UP, added_ml=9.0, tank_l=TANK_L, ph_before=ph_before, ph_after=ph_after
    )


def test_what_may_reach_the_window_by_itself_is_waited_for() -> None:
    decision = judge(dosed(5.0, 5.5), 5.5)
    assert isinstance(decision, Wait)
    assert "limestone dissolves slowly" in decision.text
    assert "0.40 from 5.9" in decision.text


def test_a_base_that_dissolves_at_once_is_not_waited_for() -> None:
    assert isinstance(judge(dosed(5.0, 5.5), 5.5, BASE), Add)


def test_what_is_far_from_reaching_the_window_is_not_waited_for() -> None:
    assert isinstance(judge(dosed(4.6, 4.7), 4.7), Add)


def test_a_wait_that_brings_little_is_followed_by_a_dose() -> None:
    assert isinstance(judge(learn_wait(dosed(5.0, 5.5), 5.53), 5.53), Add)
    assert isinstance(judge(learn_wait(dosed(5.0, 5.5), 5.72), 5.72), Wait)


def test_no_night_waits_for_ever() -> None:
    state = dosed(4.5, 4.6)
    for _ in range(MOST_WAITS):
        assert isinstance(judge(state, state.answers[-1].ph_after + 0.0), Add | Wait)
        state = learn_wait(state, state.answers[-1].ph_after + 0.1)
    assert state.waits == MOST_WAITS
    assert not isinstance(judge(state, state.answers[-1].ph_after), Wait)


def test_what_ph_did_in_a_wait_belongs_to_the_last_trim_and_is_said() -> None:
    state = learn_wait(dosed(5.0, 5.5), 5.7)
    assert state.trims == 1
    assert (state.answers[-1].ph_before, state.answers[-1].ph_after) == (5.0, 5.7)
    assert state.waited_ph == pytest.approx(0.2)
    assert came(state, TANK_L).startswith("9.0 mL and 1 wait took pH from 5.00 to 5.70")
    again = learn(state, Direction.UP, added_ml=3.0, tank_l=TANK_L, ph_before=5.7, ph_after=5.8)
    assert (again.waits, again.waited_ph) == (1, None)
    assert again.answers[-1].given_ml_l == pytest.approx(9.0 / TANK_L)


def test_a_wait_after_no_trim_is_a_mistake_of_the_caller() -> None:
    with pytest.raises(ValueError, match="a wait after no trim"):
        learn_wait(TrimState(), 5.5)


@pytest.mark.parametrize("window", [(5.8, 6.3), (5.95, 6.15)])
def test_slow_limestone_reaches_the_window_and_does_not_dissolve_past_it(window: tuple[float, float]) -> None:
    rng = random.Random(21)
    nights: list[TrimmedNight] = []
    for _ in range(30):
        water: TitratedWater = organic_water(rng, rng.uniform(4.5, 5.6))
        nights.append(trim_night(water, rng, window=window, base=LIMESTONE))
    assert [night.past_far_edge_ph for night in nights if night.past_far_edge_ph > 0.0] == []
    assert [night.end for night in nights if not isinstance(night.end, InWindow)] == []
    assert sorted(night.trims for night in nights)[-1] <= 9
    assert any(night.state.waits > 0 for night in nights)
