"""The running estimate of a tube: it follows weighed doses, forgets, and is judged at 3 % and 8 %."""

from __future__ import annotations

import math
import random

import pytest

from controller.measure.tube import (
    CALIBRATED_STANDARD_SHARE,
    REFUSE_SHARE,
    WANDERS_COUNTS,
    WANDERS_SHARE,
    WARN_SHARE,
    TubeDose,
    TubeEstimate,
    TubeVerdict,
    tube_from,
    with_dose,
)

CALIBRATED = 0.05


def dose(share: float, ml: float = 500.0, uncertainty_share: float = 0.006) -> TubeDose:
    return TubeDose(round(ml / CALIBRATED), share * ml, uncertainty_share * ml)


def test_a_tube_without_a_weighed_dose_is_as_calibrated() -> None:
    tube = tube_from(CALIBRATED, [])
    assert (tube.ml_per_count, tube.drift_share, tube.verdict) == (CALIBRATED, 0.0, TubeVerdict.SOUND)


def test_a_good_weighing_teaches_much_and_a_poor_one_hardly_anything() -> None:
    good = with_dose(TubeEstimate(CALIBRATED), dose(0.98))
    assert 0.98 < good.share < 0.994
    poor = with_dose(TubeEstimate(CALIBRATED), dose(0.97, ml=5.0, uncertainty_share=0.2))
    assert poor.share == pytest.approx(1.0, abs=0.001)


def test_a_weighing_and_what_was_known_meet_as_weights_of_one_over_their_variance() -> None:
    """Weighted mean (JCGM 100:2008) after one step of a random walk."""
    told = with_dose(TubeEstimate(CALIBRATED), dose(0.98))
    before = 1.0 / (CALIBRATED_STANDARD_SHARE**2 + WANDERS_SHARE**2 * 10_000 / WANDERS_COUNTS)
    weighed = 1.0 / (0.003**2 + 0.005**2)
    assert told.share == pytest.approx((before + 0.98 * weighed) / (before + weighed))
    assert told.standard_share == pytest.approx((before + weighed) ** -0.5)


def test_it_follows_a_tube_that_wears_slowly() -> None:
    chance = random.Random(3)
    tube, true = TubeEstimate(CALIBRATED), 1.0
    for _ in range(60):
        true -= 0.0007
        tube = with_dose(tube, dose(true * chance.gauss(1.0, 0.005)))
        assert abs(tube.share - true) < 0.015
    assert tube.verdict is TubeVerdict.DRIFTS


def test_one_dose_far_off_only_widens_the_doubt_and_a_second_makes_it_the_tube() -> None:
    old = tube_from(CALIBRATED, [dose(0.9)] * 20)
    assert old.share == pytest.approx(0.9, abs=0.002)
    once = with_dose(old, dose(1.0))
    assert (once.share, once.doses) == (old.share, old.doses)
    assert once.share + 2.0 * once.standard_share > 1.0, "its doubt holds what was seen"
    twice = with_dose(once, dose(1.002))
    assert twice.share == pytest.approx(1.001, abs=0.001)
    assert twice.standard_share < 0.006
    assert (twice.unconfirmed, twice.doses) == (None, old.doses + 2)


def test_a_dose_like_all_before_makes_a_single_one_far_off_forgotten() -> None:
    old = tube_from(CALIBRATED, [dose(0.98)] * 5)
    after = tube_from(CALIBRATED, [*[dose(0.98)] * 5, dose(0.78), dose(0.98)])
    assert after.share == pytest.approx(old.share, abs=0.002)
    assert after.standard_share <= old.standard_share
    once_more = with_dose(after, dose(0.78))
    assert once_more.share == after.share, "two that are not one after the other confirm nothing"


def test_two_doses_far_off_that_disagree_make_no_tube() -> None:
    tube = tube_from(CALIBRATED, [dose(0.78), dose(1.2), dose(0.9)])
    assert (tube.share, tube.doses) == (1.0, 0)


def test_a_small_dose_that_agrees_with_both_decides_nothing() -> None:
    once = tube_from(CALIBRATED, [dose(1.0), dose(0.9)])
    poor = with_dose(once, dose(0.95, ml=5.0, uncertainty_share=0.2))
    assert poor.unconfirmed == once.unconfirmed
    assert poor.share == pytest.approx(1.0, abs=0.002)
    assert with_dose(poor, dose(0.9)).share == pytest.approx(0.9, abs=0.002)


@pytest.mark.parametrize("share", [0.0, 0.5, 0.69, 1.31, 1.8])
def test_what_no_tube_can_do_teaches_nothing(share: float) -> None:
    tube = tube_from(CALIBRATED, [dose(0.98)])
    assert tube.doses == 1
    assert with_dose(tube, dose(share)) == tube


@pytest.mark.parametrize(
    ("drift", "verdict"),
    [
        (0.0, TubeVerdict.SOUND),
        (WARN_SHARE - 0.002, TubeVerdict.SOUND),
        (WARN_SHARE + 0.002, TubeVerdict.DRIFTS),
        (REFUSE_SHARE - 0.002, TubeVerdict.DRIFTS),
        (REFUSE_SHARE + 0.002, TubeVerdict.REFUSED),
    ],
)
@pytest.mark.parametrize("way", [-1.0, 1.0])
def test_the_verdict_changes_at_three_and_at_eight_percent_either_way(
    drift: float, verdict: TubeVerdict, way: float
) -> None:
    tube = tube_from(CALIBRATED, [dose(1.0 + way * drift)] * 30)
    assert tube.verdict is verdict


def test_a_drift_within_its_own_doubt_is_none() -> None:
    assert TubeEstimate(CALIBRATED, 0.95, 0.03, doses=1).verdict is TubeVerdict.SOUND


def test_counts_of_nothing_teach_nothing_and_nonsense_is_refused() -> None:
    tube = TubeEstimate(CALIBRATED)
    assert with_dose(tube, TubeDose(0, 0.0, 1.0)) == tube
    with pytest.raises(ValueError, match="no weighed dose"):
        with_dose(tube, TubeDose(100, math.nan, 1.0))
    with pytest.raises(ValueError, match="no weighed dose"):
        with_dose(tube, TubeDose(100, 5.0, 0.0))
