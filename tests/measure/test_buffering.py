"""How water takes up acid and base: shapes, what is believed, and the bound that must never be too high."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from controller.measure.buffer_bound import least_ml_l
from controller.measure.buffer_fit import Evidence, believed_ml_l
from controller.measure.buffering import CREDIBLE_PK, TITRANTS, Direction, Titrant, Titration, taken_up

mixtures = st.lists(st.floats(0.0, 5.0), min_size=len(CREDIBLE_PK), max_size=len(CREDIBLE_PK)).filter(
    lambda amounts: sum(amounts) > 0.1
)


def amount(mixture: list[float], ph_from: float, ph_to: float) -> float:
    """Give what a known mixture truly takes up, written out apart from the code under test."""
    return sum(
        mmol * abs(1.0 / (1.0 + 10.0 ** (pk - ph_from)) - 1.0 / (1.0 + 10.0 ** (pk - ph_to)))
        for mmol, pk in zip(mixture, CREDIBLE_PK, strict=True)
    )


def test_a_site_gives_up_half_of_itself_between_its_pk_and_far_away() -> None:
    # Henderson-Hasselbalch: at pH = pK half is dissociated, one unit above it 10/11.
    assert taken_up(6.35, 6.35, 20.0) == pytest.approx(0.5)
    assert taken_up(6.35, 7.35, 6.35) == pytest.approx(10 / 11 - 0.5)


@given(
    mixture=mixtures,
    start=st.floats(6.5, 8.8),
    steps=st.lists(st.floats(0.03, 0.8), min_size=1, max_size=5),
)
def test_the_least_amount_is_never_more_than_a_credible_water_needs(
    mixture: list[float], start: float, steps: list[float]
) -> None:
    seen, ph = [], start
    for step in steps:
        after = max(6.0, ph - step)
        if after < ph:
            seen.append(Titration(Direction.DOWN, amount(mixture, ph, after), ph, after))
        ph = after
    assert least_ml_l(seen, ph, 5.8, 0.0) <= amount(mixture, ph, 5.8) * (1.0 + 1e-9)


@given(
    mixture=mixtures,
    start=st.floats(4.0, 5.6),
    steps=st.lists(st.floats(0.03, 0.8), min_size=1, max_size=5),
)
def test_the_least_amount_holds_for_base_as_well(
    mixture: list[float], start: float, steps: list[float]
) -> None:
    seen, ph = [], start
    for step in steps:
        after = min(6.1, ph + step)
        if after > ph:
            seen.append(Titration(Direction.UP, amount(mixture, ph, after), ph, after))
        ph = after
    assert least_ml_l(seen, ph, 6.3, 0.0) <= amount(mixture, ph, 6.3) * (1.0 + 1e-9)


@given(
    mixture=mixtures,
    titrant=st.sampled_from([*TITRANTS[Direction.DOWN]]),
    start=st.floats(6.5, 8.8),
    steps=st.lists(st.floats(0.05, 0.8), min_size=1, max_size=4),
)
@example([0.0, 0.0, 2.0, 0.0, 0.0], TITRANTS[Direction.DOWN][1], 7.84, [0.29, 0.17, 0.39, 0.82])
def test_the_least_amount_holds_for_acids_that_weaken_and_stay_in_the_water(
    mixture: list[float], titrant: Titrant, start: float, steps: list[float]
) -> None:
    # Written out as a charge balance apart from the code under test: what was given in all, times what it
    # gives at this pH, is what the water has taken up since the start.
    def given(ph: float) -> float:
        strong = titrant.strong + sum(
            share / (1.0 + 10.0 ** (pk - ph)) for share, pk in zip(titrant.sites, CREDIBLE_PK, strict=True)
        )
        return amount(mixture, start, ph) / strong

    seen, ph = [], start
    for step in steps:
        after = max(5.6, ph - step)
        if after < ph:
            seen.append(Titration(Direction.DOWN, given(after) - given(ph), ph, after, given(ph)))
        ph = after
    need = given(5.3) - given(ph)
    assert least_ml_l(seen, ph, 5.3, 0.0, given(ph)) <= need * (1.0 + 1e-9)


@given(mixture=mixtures, misread=st.lists(st.floats(-0.02, 0.02), min_size=4, max_size=4))
def test_the_least_amount_holds_when_readings_are_off_by_the_doubt(
    mixture: list[float], misread: list[float]
) -> None:
    true = [8.0, 7.6, 7.1, 6.7]
    read = [ph + error for ph, error in zip(true, misread, strict=True)]
    seen = [
        Titration(Direction.DOWN, amount(mixture, true[i], true[i + 1]), read[i], read[i + 1])
        for i in range(3)
    ]
    assert least_ml_l(seen, read[-1], 5.8, 0.02) <= amount(mixture, true[-1], 5.8) * (1.0 + 1e-9)


def test_a_second_answer_that_shows_growing_buffering_lifts_the_bound() -> None:
    carbonate = [0.0, 0.0, 2.0, 0.0, 0.0]
    first = Titration(Direction.DOWN, amount(carbonate, 8.0, 7.5), 8.0, 7.5)
    second = Titration(Direction.DOWN, amount(carbonate, 7.5, 7.0), 7.5, 7.0)
    alone = least_ml_l([second], 7.0, 5.8, 0.01)
    both = least_ml_l([first, second], 7.0, 5.8, 0.01)
    assert both > 1.5 * alone


def test_nothing_seen_or_no_room_bounds_nothing() -> None:
    answer = Titration(Direction.DOWN, 0.1, 7.0, 6.5)
    assert least_ml_l([], 7.0, 5.8, 0.02) == 0.0
    assert least_ml_l([answer], 5.81, 5.8, 0.02) == 0.0


@pytest.mark.parametrize(
    "mixture", [[0.0, 0.0, 2.0, 0.0, 0.0], [0.0, 0.0, 1.0, 1.0, 0.0], [0.0, 0.5, 1.5, 0.0, 0.0]]
)
def test_the_need_of_a_plain_water_is_believed_within_an_eighth_after_three_answers(
    mixture: list[float],
) -> None:
    way = [7.6, 7.2, 6.8, 6.5]
    evidence = [
        Evidence(Titration(Direction.DOWN, amount(mixture, a, b), a, b), 0.03) for a, b in pairwise(way)
    ]
    need = believed_ml_l(evidence, 6.5, 6.05, 0.02)
    assert need == pytest.approx(amount(mixture, 6.5, 6.05), rel=0.125)


def test_no_need_is_believed_before_an_answer_stands_out_of_doubt() -> None:
    silent = Evidence(Titration(Direction.DOWN, 0.1, 7.0, 6.99), 0.03)
    assert believed_ml_l([], 7.0, 6.0, 0.02) is None
    assert believed_ml_l([silent], 7.0, 6.0, 0.02) is None


@pytest.mark.parametrize("wrong", [(-0.1, 7.0, 6.0), (math.nan, 7.0, 6.0), (0.1, math.inf, 6.0)])
def test_an_impossible_titration_is_refused(wrong: tuple[float, float, float]) -> None:
    with pytest.raises(ValueError, match="no titration"):
        Titration(Direction.DOWN, *wrong)
