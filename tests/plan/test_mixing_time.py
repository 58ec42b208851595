"""Mixing time by the jet correlation of Grenville and Tilton, ChERD 74A (1996) 390, from memory.

No published worked example was found; the rows below were computed apart from this code.
"""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from small_site import recipe, small_rig

from controller.plan.batch import plan_batch
from controller.plan.findings import Rule
from controller.plan.mixing import jet_path_m, jet_reynolds, mix_s, nozzle_speed_m_s, theta95_s
from controller.plan.tonight import tonight_from

# An upright cylinder of 0.60 m filled 0.70 m high.
CONTENT_L = math.pi * 0.30**2 * 0.70 * 1000.0


def stir(flow_l_min, nozzle_mm):
    return replace(small_rig().stir, flow_l_min=flow_l_min, nozzle_mm=nozzle_mm)


def test_the_jet_crosses_the_diagonal():
    assert abs(CONTENT_L - 198.0) < 0.1
    assert jet_path_m(small_rig().tank, CONTENT_L) == pytest.approx(0.922, abs=0.0005)


@pytest.mark.parametrize(
    ("flow_l_min", "nozzle_mm", "speed_m_s", "reynolds", "seconds"),
    [(30, 10, 6.37, 64_000, 40), (30, 15, 2.83, 42_000, 60), (60, 15, 5.66, 85_000, 30)],
)
def test_worked_rows_of_the_jet_correlation(flow_l_min, nozzle_mm, speed_m_s, reynolds, seconds):
    pump = stir(flow_l_min, nozzle_mm)
    assert nozzle_speed_m_s(pump) == pytest.approx(speed_m_s, abs=0.005)
    assert jet_reynolds(pump) == pytest.approx(reynolds, abs=500)
    assert theta95_s(small_rig().tank, pump, CONTENT_L) == pytest.approx(seconds, abs=0.5)


def test_the_safety_factor_multiplies_and_a_suspension_doubles(small_site):
    site = small_site()
    plain_s = mix_s(site, CONTENT_L, suspension=False, complete=False)
    assert plain_s == pytest.approx(2.0 * theta95_s(site.rig.tank, site.rig.stir, CONTENT_L))
    assert mix_s(site, CONTENT_L, suspension=True, complete=False) == pytest.approx(2.0 * plain_s)


def test_a_complete_mix_takes_half_as_long_again(small_site):
    # ln 100 / ln 20 = 1.54: exponential decay of what is not yet mixed.
    site = small_site()
    ratio = mix_s(site, CONTENT_L, suspension=False, complete=True) / mix_s(
        site, CONTENT_L, suspension=False, complete=False
    )
    assert ratio == pytest.approx(1.54, abs=0.005)


def test_a_mix_is_never_shorter_than_the_site_wants(small_site):
    site = small_site()
    slow = replace(site.policy, mixing=replace(site.policy.mixing, min_mix_s=500.0))
    assert mix_s(small_site(policy=slow), CONTENT_L, suspension=True, complete=True) == 500.0


def test_a_jet_that_is_not_turbulent_is_said_aloud(small_site):
    weak = replace(small_rig(), stir=stir(4.0, 15.0))
    plan = plan_batch(small_site(rig=weak), "feed", tonight_from(small_site()))
    assert Rule.MIXING in {warning.rule for warning in plan.warnings}
    strong = plan_batch(small_site(), "feed", tonight_from(small_site()))
    assert Rule.MIXING not in {warning.rule for warning in strong.warnings}


def test_each_addition_is_mixed_for_what_the_tank_holds_by_then(small_site):
    site = small_site(recipe(("kelp", 2), ("tea", 5)))
    kelp, tea = plan_batch(site, "feed", tonight_from(site)).additions
    # 135 L and 460 mL of kelp and rinses; the living input goes into a tank that is topped up.
    assert kelp.mix_s == pytest.approx(mix_s(site, 135.46, suspension=False, complete=False))
    assert tea.mix_s == pytest.approx(mix_s(site, 180.0, suspension=False, complete=False))
