"""Trimming pH, decision by decision. Whole nights are in test_trim_nights.py."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from trimmed_night import ACID, BASE, POLICY, TANK_L, WINDOW

from controller.measure.trim import (
    Add,
    Direction,
    GiveUp,
    InWindow,
    Obstacle,
    Titration,
    TrimDecision,
    TrimState,
    came,
    decide,
    learn,
)
from controller.settings.values import Input, TrimPolicy

LOW, HIGH = WINDOW


def judge(
    state: TrimState,
    ph: float,
    policy: TrimPolicy = POLICY,
    acid: Input | None = ACID,
    base: Input | None = BASE,
    min_ml: float = 0.5,
    remembered: tuple[Titration, ...] = (),
    step_ml: float = 0.0,
) -> TrimDecision:
    return decide(
        state,
        ph,
        window=WINDOW,
        tank_l=TANK_L,
        policy=policy,
        acid=acid,
        base=base,
        acid_min_ml=min_ml,
        base_min_ml=min_ml,
        remembered=remembered,
        acid_step_ml=step_ml,
        base_step_ml=step_ml,
    )


def after(*answers: tuple[float, float, float], direction: Direction = Direction.DOWN) -> TrimState:
    """Make a state from (mL, pH before, pH after)."""
    state = TrimState()
    for ml, ph_before, ph_after in answers:
        state = learn(state, direction, added_ml=ml, tank_l=TANK_L, ph_before=ph_before, ph_after=ph_after)
    return state


def gives_up(decision: TrimDecision) -> Obstacle:
    assert isinstance(decision, GiveUp)
    assert decision.reason
    assert decision.remedy
    return decision.obstacle


titrations = st.builds(
    Titration,
    direction=st.sampled_from(Direction),
    ml_l=st.floats(0.0, 0.8),
    ph_before=st.floats(3.0, 10.0),
    ph_after=st.floats(3.0, 10.0),
)
states = st.builds(TrimState, answers=st.lists(titrations, max_size=8).map(tuple))
memories = st.lists(titrations, max_size=4).map(tuple)


@settings(deadline=None)
@given(state=states, ph=st.floats(0.0, 14.0), remembered=memories, min_ml=st.floats(0.0, 6.0))
def test_whatever_was_seen_a_trim_goes_the_right_way_and_within_every_limit(
    state: TrimState, ph: float, remembered: tuple[Titration, ...], min_ml: float
) -> None:
    decision = judge(state, ph, remembered=remembered, min_ml=min_ml)
    if LOW <= ph <= HIGH:
        assert isinstance(decision, InWindow)
    if not isinstance(decision, Add):
        return
    assert decision.input is (ACID if ph > HIGH else BASE)
    assert decision.direction is (Direction.DOWN if ph > HIGH else Direction.UP)
    assert decision.ml >= min_ml * (1.0 - 1e-9)
    assert decision.ml > 0.0
    turned = bool(state.answers) and state.answers[-1].direction is not decision.direction
    given_ml_l = state.added_ml_l(decision.direction)
    assert given_ml_l + decision.ml / TANK_L <= POLICY.cap_ml_l * (1.0 + 1e-9)
    assert state.trims < POLICY.max_trims
    assert state.turns + turned <= 1
    response = decision.believed_response_ph_per_ml
    assert response is None or (response < 0) == (decision.direction is Direction.DOWN)


@settings(deadline=None)
@given(state=states, ph=st.floats(LOW, HIGH), remembered=memories)
def test_in_the_window_nothing_is_ever_added(
    state: TrimState, ph: float, remembered: tuple[Titration, ...]
) -> None:
    assert isinstance(judge(state, ph, remembered=remembered), InWindow)


def test_a_cold_start_begins_with_the_first_dose_of_the_policy() -> None:
    decision = judge(TrimState(), 7.6)
    assert isinstance(decision, Add)
    assert decision.ml == pytest.approx(POLICY.first_dose_ml_l * TANK_L)
    assert decision.believed_response_ph_per_ml is None


def test_close_to_the_far_edge_the_first_dose_is_smaller() -> None:
    near = decide(
        TrimState(),
        6.2,
        window=(6.0, 6.15),
        tank_l=TANK_L,
        policy=POLICY,
        acid=ACID,
        base=BASE,
        acid_min_ml=0.5,
        base_min_ml=0.5,
    )
    assert isinstance(near, Add)
    assert near.ml < 0.5 * POLICY.first_dose_ml_l * TANK_L


def test_a_later_dose_is_the_share_of_the_believed_need_and_says_so() -> None:
    # Answers of a much buffered water, well known by now: the far edge is out of reach of the whole need.
    state = after((60.0, 6.9, 6.6), (60.0, 6.6, 6.3), (15.0, 6.3, 6.22))
    decision = judge(state, 6.40, replace(POLICY, share=0.5))
    assert isinstance(decision, Add)
    assert decision.believed_response_ph_per_ml is not None
    need_ml = (6.05 - 6.40) / decision.believed_response_ph_per_ml
    assert decision.ml == pytest.approx(0.5 * need_ml)
    assert "pH 6.40" in decision.believed
    assert "citric_acid" in decision.did
    assert "50 % of that" in decision.text


def test_a_steep_answer_keeps_the_next_dose_inside_the_far_edge_even_if_the_response_doubles() -> None:
    # 20 mL moved 0.9 pH; from 6.4 it is 0.6 to the far edge and 0.35 to the aim.
    decision = judge(after((20.0, 7.3, 6.4)), 6.4)
    assert isinstance(decision, Add)
    assert 2.0 * (0.9 / 20.0) * decision.ml < 6.4 - LOW


def test_remembered_answers_make_the_first_dose_larger_but_never_trust_it_whole() -> None:
    memory = (
        Titration(Direction.DOWN, 0.03, 7.6, 7.4),
        Titration(Direction.DOWN, 0.3, 7.4, 6.5),
        Titration(Direction.DOWN, 0.25, 6.5, 6.05),
    )
    cold, warm = judge(TrimState(), 7.6), judge(TrimState(), 7.6, remembered=memory)
    assert isinstance(cold, Add)
    assert isinstance(warm, Add)
    assert warm.ml > 5.0 * cold.ml
    assert warm.ml < 0.58 * TANK_L / 2.0


def test_remembered_base_says_nothing_about_acid() -> None:
    memory = (Titration(Direction.UP, 0.3, 5.0, 6.0),)
    assert judge(TrimState(), 7.6, remembered=memory) == judge(TrimState(), 7.6)


def test_the_last_dose_before_the_cap_is_cut_to_it_and_then_it_is_over() -> None:
    policy = replace(POLICY, cap_ml_l=0.5)
    state = after((20.0, 8.0, 7.3), (52.0, 7.3, 6.8))
    decision = judge(state, 6.8, policy)
    assert isinstance(decision, Add)
    assert decision.ml == pytest.approx(18.0)
    assert "cap" in decision.did
    spent = after((20.0, 8.0, 7.3), (52.0, 7.3, 6.8), (18.0, 6.8, 6.7))
    assert gives_up(judge(spent, 6.7, policy)) is Obstacle.CAP_REACHED


def test_after_the_allowed_number_of_trims_it_is_over() -> None:
    policy = replace(POLICY, max_trims=2)
    state = after((5.0, 7.5, 7.3), (10.0, 7.3, 7.0))
    assert gives_up(judge(state, 7.0, policy)) is Obstacle.TOO_MANY_TRIMS


def test_the_direction_may_change_once_and_not_twice() -> None:
    overshot = after((40.0, 6.5, 5.6))
    turned = judge(overshot, 5.6)
    assert isinstance(turned, Add)
    assert turned.input is BASE
    back = learn(overshot, Direction.UP, added_ml=5.0, tank_l=TANK_L, ph_before=5.6, ph_after=6.5)
    assert gives_up(judge(back, 6.5)) is Obstacle.TOO_MANY_TURNS


def test_without_a_trim_input_for_the_direction_it_is_over() -> None:
    assert gives_up(judge(TrimState(), 7.0, acid=None)) is Obstacle.NO_TRIM_INPUT
    assert gives_up(judge(TrimState(), 5.0, base=None)) is Obstacle.NO_TRIM_INPUT
    assert isinstance(judge(TrimState(), 7.0, base=None), Add)


def test_the_edges_that_are_aimed_for_are_told_as_such_and_not_as_the_window() -> None:
    reached, without = judge(TrimState(), 6.0), judge(TrimState(), 7.0, acid=None)
    assert reached.text == "pH 6.00 is where trims aim, 5.8 to 6.3"
    assert without.text.startswith("pH 7.00 is above 6.3 and the recipe names no acid to trim with")


def test_a_pump_too_coarse_for_a_safe_dose_is_not_used() -> None:
    assert gives_up(judge(TrimState(), 7.0, min_ml=10.0)) is Obstacle.DOSE_TOO_COARSE


def test_a_dose_below_the_floor_is_raised_to_it_only_where_that_is_safe() -> None:
    state = after((40.0, 6.9, 6.5), (20.0, 6.5, 6.31))
    gentle = replace(POLICY, share=0.3)
    free = judge(state, 6.31, gentle)
    raised = judge(state, 6.31, gentle, min_ml=15.0)
    assert isinstance(free, Add)
    assert isinstance(raised, Add)
    assert free.ml < raised.ml == pytest.approx(15.0)
    assert gives_up(judge(state, 6.31, min_ml=60.0)) is Obstacle.DOSE_TOO_COARSE


def test_a_probe_that_never_answers_ends_the_trim_after_three_doses() -> None:
    state = TrimState()
    for _ in range(3):
        decision = judge(state, 7.0)
        assert isinstance(decision, Add)
        state = learn(state, Direction.DOWN, added_ml=decision.ml, tank_l=TANK_L, ph_before=7.0, ph_after=7.0)
    assert gives_up(judge(state, 7.0)) is Obstacle.NO_ANSWER


def test_a_probe_that_falls_silent_ends_the_trim_at_once() -> None:
    state = after((5.0, 7.8, 7.5), (10.0, 7.5, 7.5))
    assert gives_up(judge(state, 7.5)) is Obstacle.NO_ANSWER


def test_acid_that_raises_ph_ends_the_trim() -> None:
    assert gives_up(judge(after((5.0, 7.0, 7.4)), 7.4)) is Obstacle.WRONG_WAY


@pytest.mark.parametrize("ph", [math.nan, math.inf, -1.0, 15.0])
def test_a_reading_that_is_no_ph_ends_the_trim(ph: float) -> None:
    assert gives_up(judge(TrimState(), ph)) is Obstacle.NO_READING


def test_a_window_upside_down_or_an_empty_tank_is_a_mistake_of_the_caller() -> None:
    with pytest.raises(ValueError, match="no window or no tank"):
        decide(
            TrimState(),
            7.0,
            window=(6.3, 5.8),
            tank_l=TANK_L,
            policy=POLICY,
            acid=ACID,
            base=BASE,
            acid_min_ml=1.0,
            base_min_ml=1.0,
        )
    with pytest.raises(ValueError, match="no tank"):
        learn(TrimState(), Direction.DOWN, added_ml=1.0, tank_l=0.0, ph_before=7.0, ph_after=6.9)


def test_the_state_counts_what_was_done() -> None:
    state = after((18.0, 7.5, 7.3), (36.0, 7.3, 7.29))
    assert state.trims == 2
    assert state.turns == 0
    assert state.added_ml_l(Direction.DOWN) == pytest.approx(0.3)
    assert state.added_ml_l(Direction.UP) == 0.0
    assert [answer.ph_after for answer in state.memory(0.02)] == [7.3]
    assert came(TrimState(), TANK_L) == ""
    assert came(state, TANK_L) == "36.0 mL took pH from 7.30 to 7.29, -0.0003 pH per mL"


@pytest.mark.parametrize(("step_ml", "min_ml"), [(0.16, 0.8), (1.0, 0.5), (3.0, 0.5)])
def test_a_trim_is_whole_rollers_of_its_pump_and_never_more_than_without_them(
    step_ml: float, min_ml: float
) -> None:
    state = after((10.0, 7.6, 7.5), (20.0, 7.5, 7.3))
    free, whole = judge(state, 7.3, min_ml=min_ml), judge(state, 7.3, min_ml=min_ml, step_ml=step_ml)
    assert isinstance(free, Add)
    assert isinstance(whole, Add)
    assert free.ml - step_ml < whole.ml <= free.ml
    assert whole.ml / step_ml == pytest.approx(round(whole.ml / step_ml))


def test_a_trim_below_one_roller_is_given_as_it_is() -> None:
    coarse = judge(TrimState(), 7.6, step_ml=20.0)
    assert isinstance(coarse, Add)
    assert coarse.ml == pytest.approx(POLICY.first_dose_ml_l * TANK_L)


def test_no_trim_is_larger_than_the_most_that_its_pump_may_give_at_once():
    state = after((10.0, 7.6, 7.5), (20.0, 7.5, 7.3))
    sizes = {}
    for most_ml in (math.inf, 25.0, 12.0):
        decision = decide(
            state,
            7.3,
            window=WINDOW,
            tank_l=TANK_L,
            policy=POLICY,
            acid=ACID,
            base=BASE,
            acid_min_ml=0.5,
            base_min_ml=0.5,
            acid_most_ml=most_ml,
            base_most_ml=1.0,
        )
        assert isinstance(decision, Add)
        sizes[most_ml] = decision.ml
    assert sizes[math.inf] > 25.0
    assert sizes[25.0] == pytest.approx(25.0)
    assert sizes[12.0] == pytest.approx(12.0)
