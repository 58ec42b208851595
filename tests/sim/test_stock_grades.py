"""Grades settle together as the powder that they stand for, and grains make their liquid thicker."""

import math

import pytest
from scipy import integrate, stats

from sim.matter.settling import terminal_velocity_m_s
from sim.pumping.grain_sizes import log_normal_grades
from sim.true_input import Composition
from sim.world_file import BOUNDS


@pytest.mark.parametrize("spread", [1.2, 1.6, 2.5])
@pytest.mark.parametrize("grades", [3, 4, 5])
def test_each_grade_has_an_equal_volume_and_the_root_mean_square_size_of_its_part(spread, grades):
    # scipy's log-normal distribution, integrated over each part.
    powder = stats.lognorm(math.log(spread), scale=20.0)
    cut = log_normal_grades(20.0, spread, grades)
    assert [grade.volume_share for grade in cut] == pytest.approx([1 / grades] * grades)
    for place, grade in enumerate(cut):
        low, high = powder.ppf(place / grades), powder.ppf(min((place + 1) / grades, 1 - 1e-15))
        mean_square, _ = integrate.quad(lambda um: um * um * powder.pdf(um), low, high)
        assert grade.size_um**2 == pytest.approx(mean_square * grades, rel=1e-5)


def test_all_grades_together_start_at_the_speed_of_the_whole_powder():
    # The mean over the distribution, from scipy; fine gypsum in water, within Stokes' range.
    powder = stats.lognorm(math.log(1.6), scale=15.0)

    def speed_m_s(um):
        return terminal_velocity_m_s(um * 1e-6, 2320.0, 998.2, 1.002e-3)

    whole_m_s, _ = integrate.quad(lambda um: speed_m_s(um) * powder.pdf(um), 0.5, 400.0, limit=200)
    graded_m_s = sum(grade.volume_share * speed_m_s(grade.size_um) for grade in log_normal_grades(15.0, 1.6))
    assert graded_m_s == pytest.approx(whole_m_s, rel=0.01)


def test_grains_that_are_all_alike_make_one_grade():
    (only,) = log_normal_grades(20.0, 1.0)
    assert (only.volume_share, only.size_um) == (1.0, 20.0)


@pytest.mark.parametrize(("um", "spread", "grades"), [(20.0, 0.9, 4), (0.0, 1.6, 4), (20.0, 1.6, 0)])
def test_a_powder_that_cannot_be_is_refused(um, spread, grades):
    with pytest.raises(ValueError, match="no powder"):
        log_normal_grades(um, spread, grades)


def test_the_world_may_say_how_the_grains_of_an_input_spread(demo_site, demo_world):
    gypsum = demo_site.inputs["gypsum_suspension"]
    described = Composition({}, "gypsum", 1.6, grain_um=20.0, grain_kg_l=2.32, grain_spread=2.2)
    assert described.true_input(gypsum).suspended.grain_spread == 2.2
    assert demo_world.inputs["gypsum_suspension"].suspended.grain_spread == 1.6
    low, high = BOUNDS["grain_spread"]
    assert low == 1.0 < high


def test_the_label_tells_how_thick_liquid_and_grains_are_together(demo_world):
    gypsum = demo_world.inputs["gypsum_suspension"]
    # 120 mPa.s on the label, at 12 % solids; Krieger & Dougherty's factor written out below.
    assert gypsum.apparent_viscosity_mpa_s() == pytest.approx(120.0)
    assert gypsum.suspended.liquid_mpa_s == pytest.approx(120.0 / gypsum_factor(0.12))
    assert gypsum.apparent_viscosity_mpa_s(0.0) == pytest.approx(gypsum.suspended.liquid_mpa_s)
    sludge_mpa_s = 120.0 * gypsum_factor(0.48) / gypsum_factor(0.12)
    assert gypsum.apparent_viscosity_mpa_s(4.0) == pytest.approx(sludge_mpa_s)
    assert gypsum.apparent_viscosity_mpa_s(1.0, 10.0) > 1.2 * gypsum.apparent_viscosity_mpa_s(1.0, 20.0)


def gypsum_factor(share):
    return (1 - share / 0.63) ** (-2.5 * 0.63)


def test_a_solution_is_as_thick_as_its_label_and_thins_with_warmth(demo_world):
    kelp = demo_world.inputs["kelp_extract"]
    assert kelp.apparent_viscosity_mpa_s(3.0) == pytest.approx(60.0)
    assert kelp.apparent_viscosity_mpa_s(1.0, 30.0) < 50.0
    assert kelp.suspended_at(10.0) is None


def test_grains_fall_more_slowly_in_the_cold(demo_world):
    gypsum = demo_world.inputs["gypsum_suspension"]
    cold, _ = gypsum.suspended_at(10.0).fall_m_s(20.0)
    at_20, _ = gypsum.suspended_at(20.0).fall_m_s(20.0)
    # IAPWS 2008: water has 1.306 mPa.s at 10 and 1.002 at 20 deg C; Stokes' speed goes with the inverse.
    assert cold / at_20 == pytest.approx(1.002 / 1.306, rel=0.02)
