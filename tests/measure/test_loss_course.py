"""Three stories of one weight: a worn tube is told from a jump and a pause, or nothing is said."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Callable

import pytest

from controller.measure.loss_course import Course, course

NOISE_G, G_PER_S, SEEDS = 12.0, 4.3, 100


def told(seconds: int, lost_g: Callable[[float, float], float]) -> Counter[Course]:
    whole_g = G_PER_S * seconds
    found: Counter[Course] = Counter()
    for seed in range(SEEDS):
        chance = random.Random(seed)
        at_g = [G_PER_S * second for second in range(1, seconds)]
        samples = [(e, chance.gauss(lost_g(e, whole_g), NOISE_G)) for e in at_g]
        found[course(samples, whole_g, lost_g(whole_g, whole_g))] += 1
    return found


@pytest.mark.parametrize(("seconds", "share"), [(170, 0.85), (170, 0.95), (110, 0.9)])
def test_a_tube_that_moves_less_all_the_time_is_told(seconds: int, share: float) -> None:
    assert told(seconds, lambda e, whole: share * e)[Course.EVEN] >= 0.95 * SEEDS


@pytest.mark.parametrize("seconds", [25, 50, 110, 170])
@pytest.mark.parametrize("jump_g", [15.0, 25.0, 60.0, 150.0])
@pytest.mark.parametrize("at_share", [0.1, 0.5, 0.92])
def test_a_jump_is_hardly_ever_taken_for_a_worn_tube(seconds: int, jump_g: float, at_share: float) -> None:
    found = told(seconds, lambda e, whole: e - (jump_g if e > at_share * whole else 0.0))
    assert found[Course.EVEN] <= 0.02 * SEEDS
    assert jump_g < 150.0 or found[Course.STEP] == SEEDS


def test_a_blockage_that_came_free_is_a_pause_and_never_a_jump() -> None:
    for seconds in (50, 110, 170):
        found = told(seconds, lambda e, whole: e - min(max(e - 0.4 * whole, 0.0), 86.0))
        assert found[Course.PAUSE] >= 0.95 * SEEDS
        assert found[Course.STEP] == 0


def test_a_small_difference_in_few_samples_is_not_decided() -> None:
    assert told(25, lambda e, whole: 0.95 * e)[Course.UNDECIDED] >= 0.95 * SEEDS
    assert course([], 100.0, 90.0) is Course.UNDECIDED


def test_a_pause_longer_than_the_dose_is_no_story() -> None:
    assert told(50, lambda e, whole: e - (6000.0 if e >= whole else 0.0))[Course.STEP] == SEEDS
