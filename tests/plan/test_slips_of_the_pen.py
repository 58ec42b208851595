"""Rates outside the label, and rates ten times off it. Labels here are invented: 1 to 10 mL/L."""

from __future__ import annotations

import pytest
from small_site import liquid, recipe

from controller.plan.findings import Refusal, Rule
from controller.plan.slips import likely_ml_l, slip_findings
from controller.plan.steps import PlanWarning


def finding_for(small_site, rate, low=2.0, high=5.0):
    kelp = liquid("kelp", label_low_ml_l=low, label_high_ml_l=high)
    site = small_site(recipe(("kelp", rate)), inputs=[kelp])
    found = list(slip_findings(site, site.recipes["feed"]))
    assert len(found) <= 1
    return found[0] if found else None


@pytest.mark.parametrize("rate", [2.0, 3.3, 5.0])
def test_a_rate_on_the_label_passes(small_site, rate):
    assert finding_for(small_site, rate) is None


@pytest.mark.parametrize("rate", [1.9, 0.5, 5.1, 12.0, 31.0])
def test_a_rate_off_the_label_is_a_warning(small_site, rate):
    found = finding_for(small_site, rate)
    assert isinstance(found, PlanWarning)
    assert found.rule is Rule.LABEL
    assert "2 to 5 mL/L" in found.text


@pytest.mark.parametrize(
    ("rate", "meant"), [(35.0, "3.5"), (50.0, "5"), (0.3, "3"), (0.2, "2"), (400.0, "4")]
)
def test_a_factor_of_ten_is_refused_with_what_was_likely_meant(small_site, rate, meant):
    found = finding_for(small_site, rate)
    assert isinstance(found, Refusal)
    assert found.rule is Rule.FACTOR_OF_TEN
    assert found.remedy == f"was {meant} mL/L meant?"


@pytest.mark.parametrize("times", [10.0, 11.0, 100.0, 1e6])
def test_ten_times_the_most_and_a_tenth_of_the_least_are_refused(small_site, times):
    assert isinstance(finding_for(small_site, 5.0 * times), Refusal)
    assert isinstance(finding_for(small_site, 2.0 / times), Refusal)


def test_per_gallon_read_as_per_litre_is_recognised():
    # US gallon 3.785411784 L: 231 cubic inches, NIST Handbook 44 Appendix C.
    kelp = liquid("kelp", label_low_ml_l=2.0, label_high_ml_l=3.0)
    assert likely_ml_l(kelp, 10.0) == pytest.approx(10.0 / 3.785411784)


def test_a_label_without_a_least_rate_lets_a_little_pass(small_site):
    assert finding_for(small_site, 0.01, low=0.0) is None
    assert isinstance(finding_for(small_site, 50.0, low=0.0), Refusal)
