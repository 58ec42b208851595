"""One round of trimming pH."""

from __future__ import annotations

import pytest

from controller.plan.mixing import mix_s
from controller.plan.steps import Agitate, Dose, Measure, Mix, Purpose, Rinse, Settle, Trim
from controller.plan.trim_round import trim_round


def round_of(site, name, ml=4.0):
    return trim_round(site, name, ml, 5.8, 6.3, "vinegar", "lime")


def test_an_acid_is_dosed_rinsed_mixed_settled_measured_and_judged_again(small_site):
    steps = round_of(small_site(), "vinegar")
    assert [type(step) for step in steps] == [Dose, Rinse, Mix, Settle, Measure, Trim]
    dose, trim = steps[0], steps[-1]
    assert (dose.input, dose.target_ml, dose.purpose) == ("vinegar", 4.0, Purpose.TRIM)
    assert (trim.ph_low, trim.ph_high, trim.acid, trim.base) == (5.8, 6.3, "vinegar", "lime")


def test_a_base_that_settles_is_agitated_first_for_its_whole_time(small_site):
    steps = round_of(small_site(), "lime")
    assert [type(step) for step in steps] == [Agitate, Dose, Rinse, Mix, Settle, Measure, Trim]
    assert (steps[0].agitator, steps[0].agitate_s, steps[0].expected_s) == ("a3", 40.0, 40.0)


def test_a_slow_dissolving_base_is_stirred_longer(small_site):
    site = small_site()
    quick = next(step for step in round_of(site, "vinegar") if isinstance(step, Mix))
    slow = next(step for step in round_of(site, "lime") if isinstance(step, Mix))
    assert quick.mix_s == pytest.approx(mix_s(site, 200.0, suspension=False, complete=True))
    assert slow.mix_s == pytest.approx(mix_s(site, 200.0, suspension=True, complete=True) + 900.0)
    assert slow.expected_s == slow.mix_s


def test_a_trim_never_runs_air_and_always_rinses_fully(small_site):
    for name in ("vinegar", "lime"):
        steps = round_of(small_site(), name)
        assert not any(step.air for step in steps if isinstance(step, Mix))
        # 5 mL of hold-up and 50 mL rinses: three for 99.9 %, where the site's 99 % takes two.
        assert [step.times for step in steps if isinstance(step, Rinse)] == [3]
