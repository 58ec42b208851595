"""A reading that comes to rest: slope, scatter, the window noise lengthens, and the doubt of the mean."""

from __future__ import annotations

import math
import random
from collections.abc import Callable
from statistics import fmean, pstdev

import pytest
from scipy import stats

from controller.measure.steadiness import GROSS, Rest, Steadiness, latest, trend

STABLE_S, STABLE_PH, LOOK_S = 60.0, 0.02, 5.0


def settled(
    ph_at: Callable[[float], float], noise_ph: float = 0.0, seed: int = 1, seconds: float = 300.0
) -> tuple[float, Rest] | None:
    """Look every 5 s until the reading rests; None when it does not come to that."""
    chance, steadiness = random.Random(seed), Steadiness(STABLE_S, STABLE_PH)
    for place in range(round(seconds / LOOK_S) + 1):
        time_s = LOOK_S * place
        steadiness.add(time_s, ph_at(time_s) + chance.gauss(0.0, noise_ph))
        rest = steadiness.rest()
        if rest is not None:
            return time_s, rest
    return None


def test_slope_and_its_error_are_those_of_a_general_regression() -> None:
    chance = random.Random(3)
    # Alternating signs leave no positive correlation between neighbours, so that all samples count.
    window = [(5.0 * i, 6.0 + 1e-4 * i + (-1) ** i * chance.uniform(0.01, 0.02)) for i in range(24)]
    seen = trend(window)
    reference = stats.linregress(*zip(*window, strict=True))
    assert seen.slope_s == pytest.approx(reference.slope)
    assert seen.slope_error_s == pytest.approx(reference.stderr)
    assert seen.mean_error == pytest.approx(seen.scatter / math.sqrt(24))


def test_a_quiet_reading_is_accepted_after_its_window_and_a_rough_one_after_a_longer_one() -> None:
    quiet, rough = settled(lambda t: 6.4, 0.003), settled(lambda t: 6.4, 0.03)
    assert quiet is not None
    assert rough is not None
    assert quiet[0] == STABLE_S
    assert 60.0 < rough[0] <= 300.0
    assert rough[1].window_s > 60.0


@pytest.mark.parametrize("noise_ph", [0.01, 0.03])
def test_noise_is_accepted_in_time_and_the_doubt_is_how_far_the_mean_really_strays(noise_ph: float) -> None:
    ends = [settled(lambda t: 6.4, noise_ph, seed) for seed in range(150)]
    rests = [end[1] for end in ends if end is not None]
    assert len(rests) == 150
    strayed_ph = pstdev(rest.mean - 6.4 for rest in rests)
    assert fmean(rest.doubt for rest in rests) == pytest.approx(strayed_ph, rel=0.25)
    assert max(rest.doubt for rest in rests) <= 0.5 * STABLE_PH + 0.01


def test_samples_that_err_alike_are_worth_fewer() -> None:
    # First-order autoregression with r = 0.7: the mean strays sqrt((1 + r) / (1 - r)) = 2.4 times as far as
    # that of independent samples (Bayley & Hammersley 1946, from memory). The estimate must follow that.
    def course(r: float, seed: int) -> list[tuple[float, float]]:
        chance, now, course = random.Random(seed), 0.0, []
        for place in range(400):
            now = r * now + math.sqrt(1 - r * r) * chance.gauss(0.0, 0.01)
            if place >= 340:
                course.append((5.0 * place, 6.0 + now))
        return course

    for r, at_least in ((0.0, 0.9), (0.7, 0.8)):
        seen = [trend(course(r, seed)) for seed in range(200)]
        strayed_ph = pstdev(one.mean for one in seen)
        assert at_least <= fmean(one.mean_error for one in seen) / strayed_ph <= 1.3


@pytest.mark.parametrize(("noise_ph", "let_through"), [(0.0, 0.0), (0.03, 0.2)])
def test_a_creeping_reading_is_not_at_rest_though_no_two_neighbours_differ_much(
    noise_ph: float, let_through: float
) -> None:
    # 0.03 in a window of 60 s, where 0.02 is allowed: under noise only chance lets one through now and then.
    passed = [settled(lambda t: 6.4 - 0.0005 * t, noise_ph, seed) is not None for seed in range(60)]
    assert sum(passed) / 60 <= let_through
    assert settled(lambda t: 6.4 - 0.0002 * t) is not None


def restless(swing_ph: float, every_s: float, seconds: float) -> Steadiness:
    """Samples that jump to and fro by this much on either side, without any slope."""
    wild = Steadiness(STABLE_S, STABLE_PH)
    for place in range(round(seconds / every_s) + 1):
        wild.add(every_s * place, 6.4 + (swing_ph if place % 2 else -swing_ph))
    return wild


def test_single_samples_that_scatter_grossly_never_rest_however_many_they_are() -> None:
    # Looked at so often, the mean of 0.12 to and fro would be sure to 0.004.
    wild = restless(0.12, 0.5, 480.0)
    assert wild.rest() is None
    scatter = wild.scatter()
    assert scatter is not None
    assert scatter > wild.gross == GROSS * STABLE_PH
    assert restless(0.09, 0.5, 480.0).rest() is not None


def test_a_mean_that_is_not_sure_enough_does_not_rest_though_it_does_not_move() -> None:
    # 49 samples: the mean of 0.09 to and fro is sure to 0.013, wanted is 0.01; slope and scatter pass.
    unsure = restless(0.09, LOOK_S, 240.0)
    seen = trend(unsure.samples)
    assert abs(seen.slope_s) + 1.645 * seen.slope_error_s <= STABLE_PH / STABLE_S
    assert seen.scatter <= unsure.gross
    assert unsure.rest() is None
    assert restless(0.06, LOOK_S, 240.0).rest() is not None


def test_a_lagging_probe_is_accepted_only_when_it_has_arrived() -> None:
    # First order, time constant 20 s, from pH 7.5 to 6.0: what is missing at acceptance is within the limit.
    end = settled(lambda t: 6.0 + 1.5 * math.exp(-t / 20.0))
    assert end is not None
    assert 60.0 < end[0] < 240.0
    assert end[1].mean == pytest.approx(6.0, abs=0.02)


def test_the_doubt_grows_with_a_movement_that_is_allowed_and_with_the_converters_step() -> None:
    def doubt(slope_s: float, resolution: float) -> float:
        steadiness = Steadiness(STABLE_S, STABLE_PH, resolution)
        for place in range(13):
            steadiness.add(LOOK_S * place, 6.0 + slope_s * LOOK_S * place)
        rest = steadiness.rest()
        assert rest is not None
        return rest.doubt

    assert doubt(0.0, 0.0) == 0.0
    # Rectangular spread of a whole width w: w / sqrt(12) (GUM 4.3.7).
    assert doubt(0.012 / 60.0, 0.0) == pytest.approx(0.012 / math.sqrt(12.0))
    assert doubt(0.0, 0.006) == pytest.approx(0.006 / math.sqrt(12.0))


def test_a_window_that_is_not_covered_proves_nothing() -> None:
    course = [(float(t), 6.4) for t in range(61)]
    assert latest(course, 60.0, 20.0) == course
    assert latest([], 60.0, 20.0) is None
    assert latest(course[1:], 60.0, 20.0) is None
    assert latest([one for one in course if not 20 < one[0] < 45], 60.0, 20.0) is None
    assert latest([(0.0, 6.4), (19.0, 6.4), (38.0, 6.4), (57.0, 6.4)], 50.0, 20.0) is None, "too few"


def test_it_forgets_when_told_and_keeps_no_more_than_its_longest_window() -> None:
    steadiness = Steadiness(STABLE_S, STABLE_PH)
    for second in range(5000):
        steadiness.add(float(second), 6.4)
    assert len(steadiness) <= 8 * 60 + 2
    assert steadiness.rest() is not None
    steadiness.clear()
    assert steadiness.rest() is None


def test_samples_that_run_backwards_or_are_no_numbers_are_refused() -> None:
    steadiness = Steadiness(10.0, 0.02)
    steadiness.add(5.0, 6.4)
    with pytest.raises(ValueError, match="backwards"):
        steadiness.add(4.0, 6.4)
    with pytest.raises(ValueError, match="finite"):
        steadiness.add(6.0, math.nan)
    with pytest.raises(ValueError, match="above 0"):
        Steadiness(0.0, 0.02)
