"""How fast an electrode answers, from a step and from what is left of one."""

from __future__ import annotations

import math
import random

import pytest

from controller.measure.response import decay, step_t95_s


def course(tau_s: float, missing: float, noise: float, seconds: int = 240, seed: int = 1):
    chance = random.Random(seed)
    return [
        (float(t), 6.0 + missing * math.exp(-t / tau_s) + chance.gauss(0.0, noise))
        for t in range(0, seconds, 5)
    ]


@pytest.mark.parametrize("tau_s", [8.0, 30.0, 60.0])
def test_the_time_to_95_percent_of_a_step_is_three_time_constants(tau_s: float) -> None:
    # e^-3 = 0.0498: the definition of t95 of a first-order lag. The samples are 5 s apart.
    t95_s = step_t95_s(course(tau_s, 177.0, 0.0, seconds=600), 6.0)
    assert t95_s is not None
    assert 3.0 * tau_s - 0.1 <= t95_s <= 3.0 * tau_s + 5.0


def test_there_is_no_time_to_95_percent_without_a_step_or_before_it_is_over() -> None:
    assert step_t95_s([], 6.0) is None
    assert step_t95_s([(0.0, 6.0), (5.0, 6.0)], 6.0) is None
    assert step_t95_s([(0.0, 9.0), (5.0, 8.0)], 6.0) is None


@pytest.mark.parametrize("tau_s", [20.0, 48.0, 90.0])
def test_a_small_rest_of_a_step_tells_the_time_constant(tau_s: float) -> None:
    found = decay(course(tau_s, 0.05, 0.0015))
    assert found is not None
    assert found.tau_s == pytest.approx(tau_s, rel=0.35)
    assert found.t95_s == pytest.approx(math.log(20.0) * found.tau_s)


@pytest.mark.parametrize("seed", range(30))
def test_noise_and_a_straight_drift_are_no_answer_to_a_step(seed: int) -> None:
    noise = course(50.0, 0.0, 0.003, seed=seed)
    assert decay(noise) is None
    assert decay([(t, ph + 1e-4 * t) for t, ph in noise]) is None
    assert decay(noise[:5]) is None
