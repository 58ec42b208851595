"""What a shaken scale shows of a turning pump: of a sound one nothing is told, of an empty one soon."""

from __future__ import annotations

import random

import pytest

from controller.measure.weight_loss import MISSING_SHARE, WeightLoss

START_G, NOISE_G, G_PER_S = 11_000.0, 12.0, 4.3


def watched(share: float, seconds: int, seed: int, bump_g: float = 0.0, bump_s: int = 0) -> WeightLoss:
    chance = random.Random(seed)
    loss = WeightLoss(START_G, 0.4)
    for second in range(1, seconds + 1):
        expected_g = G_PER_S * second
        stands_g = START_G - share * expected_g + (bump_g if second >= bump_s else 0.0)
        loss.add(expected_g, float(round(chance.gauss(stands_g, NOISE_G))))
        if loss.missing:
            break
    return loss


def test_a_sound_pump_is_never_told_as_missing() -> None:
    for seed in range(300):
        assert not watched(0.97, 180, seed).missing


@pytest.mark.parametrize(("share", "most_g"), [(0.0, 80.0), (0.3, 120.0), (0.5, 200.0)])
def test_what_does_not_come_is_told_within_a_segment(share: float, most_g: float) -> None:
    for seed in range(200):
        loss = watched(share, 180, seed)
        assert loss.missing
        assert loss._expected_g / loss._count * 2 <= most_g


def test_a_worn_tube_is_left_to_the_still_weight() -> None:
    for seed in range(200):
        loss = watched(0.85, 180, seed)
        assert not loss.missing
        assert loss.share == pytest.approx(0.85, abs=0.05)


def test_the_stated_doubt_covers_the_true_share() -> None:
    inside = 0
    for seed in range(400):
        loss = watched(0.9, 40, seed)
        inside += abs(loss.share - 0.9) <= 2.0 * loss.standard_share
    assert inside / 400 > 0.93


def test_before_a_few_samples_nothing_is_known() -> None:
    loss = watched(0.0, 3, 1)
    assert not loss.missing
    assert WeightLoss(START_G, 0.4).share == 1.0


def test_a_scale_from_which_another_pump_draws_is_named_and_a_resting_one_is_not() -> None:
    for seed in range(200):
        assert watched(1.0, 40, seed).taken
        assert not watched(0.0, 8, seed).taken
    assert MISSING_SHARE < 1.0


def test_a_hand_on_the_scale_is_told_at_once() -> None:
    assert watched(1.0, 5, 1, bump_g=4000.0, bump_s=2).heavier
    assert not any(watched(share, 60, seed).heavier for share in (0.0, 1.0) for seed in range(200))
