"""Noise of the simulated world depends on seed, name and moment, and on nothing else."""

from itertools import pairwise

import pytest

from sim.noise import gaussian, gaussian_at, seed_for, uniform_at, wander_at


def test_noise_is_the_same_within_a_tenth_of_a_second():
    assert gaussian_at(5, 12.30) == gaussian_at(5, 12.35)
    assert gaussian_at(5, 12.30) != gaussian_at(5, 12.45)


def test_noise_is_a_standard_normal_deviate():
    seed = seed_for(42, "anything")
    values = [gaussian(seed, index) for index in range(20_000)]
    mean = sum(values) / len(values)
    variance = sum((value - mean) ** 2 for value in values) / len(values)
    beyond_two = sum(abs(value) > 2.0 for value in values) / len(values)
    assert mean == pytest.approx(0.0, abs=0.03)
    assert variance == pytest.approx(1.0, abs=0.03)
    assert beyond_two == pytest.approx(0.0455, abs=0.006)


def test_neighbouring_moments_and_seeds_are_not_alike():
    values = [gaussian(9, index) for index in range(5000)]
    assert abs(sum(a * b for a, b in pairwise(values)) / 5000) < 0.05
    others = [gaussian(10, index) for index in range(5000)]
    assert abs(sum(a * b for a, b in zip(values, others, strict=True)) / 5000) < 0.05


def test_chance_is_even_between_nothing_and_one():
    drawn = [uniform_at(7, index * 0.1) for index in range(10_000)]
    assert min(drawn) >= 0.0
    assert max(drawn) < 1.0
    for tenth in range(10):
        share = sum(tenth <= 10 * value < tenth + 1 for value in drawn) / len(drawn)
        assert share == pytest.approx(0.1, abs=0.012)


def test_a_wander_meets_its_deviates_and_never_jumps():
    assert wander_at(3, 120.0, 60.0) == pytest.approx(gaussian(3, 2))
    steps = [abs(wander_at(3, now, 60.0) - wander_at(3, now + 0.1, 60.0)) for now in range(6000)]
    # The eased line climbs at most 1.5 x the gap between two deviates (at most 12) over its period.
    assert 0.0 < max(steps) < 1.5 * 12.0 * 0.1 / 60.0


def test_a_wander_is_as_wide_as_told():
    at_deviates = [wander_at(4, 60.0 * index, 60.0) ** 2 for index in range(4000)]
    between = [wander_at(4, 60.0 * index + 30.0, 60.0) ** 2 for index in range(4000)]
    assert sum(at_deviates) / 4000 == pytest.approx(1.0, abs=0.07)
    assert sum(between) / 4000 == pytest.approx(0.5, abs=0.04)
