"""Grains fall as the textbooks say, alone and in company; water is as thick and heavy as tabulated."""

from math import pi

import pytest

from sim.matter.settling import (
    hindered_share,
    richardson_zaki_exponent,
    schiller_naumann_drag,
    stokes_velocity_m_s,
    terminal_velocity_m_s,
)
from sim.matter.viscosity import (
    carrier_viscosity_mpa_s,
    thickening_share,
    water_density_kg_m3,
    water_viscosity_mpa_s,
)

COAL = (0.208e-3, 1800.0, 994.6, 8.931e-4)


def perry_drag(reynolds):
    return 24.0 / reynolds * (1.0 + 0.14 * reynolds**0.7)


def test_the_coal_sphere_falls_at_its_textbook_speed():
    # Cutlip & Shacham, problem 5, with the drag of Perry's handbook; solved apart from this code.
    assert terminal_velocity_m_s(*COAL, drag=perry_drag) == pytest.approx(0.0157816, rel=1e-4)


def test_schiller_naumann_and_stokes_give_their_own_speeds_for_the_coal_sphere():
    # Computed for the same sphere from the two formulas.
    assert terminal_velocity_m_s(*COAL) == pytest.approx(0.01560, rel=1e-3)
    assert stokes_velocity_m_s(*COAL) == pytest.approx(0.0213, rel=5e-3)


# Free settling in water at 20 deg C of quartz-like (2650) and gypsum-like (2320 kg/m3) grains, mm/s. No
# printed table: the balance of weight and drag was solved apart from this code, by bisection, with the drag
# of Schiller & Naumann (1933), Cd = 24/Re (1 + 0.15 Re^0.687).
@pytest.mark.parametrize(
    ("um", "kg_m3", "mm_s"),
    [
        (10, 2650, 0.090),
        (10, 2320, 0.072),
        (20, 2650, 0.36),
        (50, 2650, 2.2),
        (100, 2650, 8.0),
        (200, 2650, 24.8),
        (50, 2320, 1.75),
    ],
)
def test_grains_fall_in_water_as_schiller_and_naumanns_drag_lets_them(um, kg_m3, mm_s):
    assert terminal_velocity_m_s(um * 1e-6, kg_m3, 998.2, 1.002e-3) * 1e3 == pytest.approx(mm_s, rel=0.02)


def ferguson_church_m_s(diameter_m, grain_kg_m3):
    """Ferguson & Church (2004), J. Sediment. Res. 74, 933, for smooth spheres; formula from memory."""
    excess, viscosity_m2_s = (grain_kg_m3 - 998.2) / 998.2 * 9.81, 1.002e-3 / 998.2
    inertia = (0.75 * 0.4 * excess * diameter_m**3) ** 0.5
    return excess * diameter_m**2 / (18.0 * viscosity_m2_s + inertia)


@pytest.mark.parametrize(
    ("um", "kg_m3", "within"), [(10, 2320, 0.02), (25, 3100, 0.02), (100, 2650, 0.02), (200, 2650, 0.08)]
)
def test_another_settling_law_gives_about_the_same_speed(um, kg_m3, within):
    speed = terminal_velocity_m_s(um * 1e-6, kg_m3, 998.2, 1.002e-3)
    assert speed == pytest.approx(ferguson_church_m_s(um * 1e-6, kg_m3), rel=within)


def test_fine_grains_obey_stokes():
    fine = (5e-6, 2320.0, 998.2, 1.002e-3)
    assert terminal_velocity_m_s(*fine) == pytest.approx(stokes_velocity_m_s(*fine), rel=1e-3)


def test_a_grain_lighter_than_its_liquid_does_not_fall():
    assert terminal_velocity_m_s(1e-4, 900.0, 998.0, 1e-3) == 0.0


# Richardson & Zaki (1954), exponent 4.65.
@pytest.mark.parametrize(("share", "factor"), [(0.05, 0.79), (0.10, 0.61), (0.20, 0.35), (0.30, 0.19)])
def test_company_hinders_settling(share, factor):
    assert hindered_share(share) == pytest.approx(factor, abs=0.005)


def test_hindered_speed_leads_back_to_the_free_one():
    # Exercise: 4.44 um/s at 30 % with exponent 4.5 comes from 22.1 um/s.
    assert 4.44 / hindered_share(0.30, 4.5) == pytest.approx(22.1, abs=0.05)


# IAPWS 2008 viscosity of water and CIPM (Tanaka 2001) density.
@pytest.mark.parametrize(
    ("temperature_c", "mpa_s", "kg_m3"),
    [
        (10, 1.306, None),
        (15, 1.138, 999.1026),
        (20, 1.002, 998.2067),
        (25, 0.890, 997.0470),
        (30, 0.797, 995.6488),
    ],
)
def test_water_is_as_thick_and_heavy_as_tabulated(temperature_c, mpa_s, kg_m3):
    assert water_viscosity_mpa_s(temperature_c) == pytest.approx(mpa_s, rel=2e-3)
    if kg_m3 is not None:
        assert water_density_kg_m3(temperature_c) == pytest.approx(kg_m3, abs=1e-3)


@pytest.mark.parametrize("um", [3, 30, 300, 3000])
def test_weight_and_drag_of_a_falling_grain_are_in_balance(um):
    """Newton's law of drag, written out: weight less buoyancy = Cd x area x density x speed^2 / 2."""
    size_m, excess_kg_m3, water_kg_m3 = um * 1e-6, 2650.0 - 998.2, 998.2
    speed = terminal_velocity_m_s(size_m, 2650.0, water_kg_m3, 1.002e-3)
    weight_n = excess_kg_m3 * 9.80665 * pi / 6 * size_m**3
    drag = schiller_naumann_drag(water_kg_m3 * speed * size_m / 1.002e-3)
    assert drag * pi / 4 * size_m**2 * water_kg_m3 * speed**2 / 2 == pytest.approx(weight_n, rel=1e-6)


# The standard drag curve of a sphere, as tabulated by Clift, Grace & Weber, "Bubbles, Drops and Particles"
# (1978), table 5.1 (values from memory, two digits).
@pytest.mark.parametrize(("reynolds", "drag"), [(0.1, 244.0), (1.0, 27.2), (10.0, 4.3), (100.0, 1.09)])
def test_the_drag_follows_the_standard_curve_within_5_percent(reynolds, drag):
    assert schiller_naumann_drag(reynolds) == pytest.approx(drag, rel=0.05)


# The bands of Richardson & Zaki (1954), from memory; each worked out by hand.
@pytest.mark.parametrize(
    ("reynolds", "exponent"),
    [(0.0, 4.65), (0.1, 4.65), (0.5, 4.441), (10.0, 3.535), (100.0, 2.808), (1000.0, 2.39)],
)
def test_the_exponent_of_company_falls_with_reynolds_number(reynolds, exponent):
    assert richardson_zaki_exponent(reynolds) == pytest.approx(exponent, abs=1e-3)


@pytest.mark.parametrize("edge", [0.2, 1.0, 500.0])
def test_the_bands_of_the_exponent_meet_within_3_percent(edge):
    below, above = richardson_zaki_exponent(edge * 0.999), richardson_zaki_exponent(edge * 1.001)
    assert below == pytest.approx(above, rel=0.03)


@pytest.mark.parametrize(("temperature_c", "mpa_s"), [(10, 1.306), (15, 1.138), (25, 0.890), (30, 0.797)])
def test_a_carrier_thickens_in_the_cold_as_water_does(temperature_c, mpa_s):
    # IAPWS 2008: the one constant of Andrade's law is fitted to water.
    assert carrier_viscosity_mpa_s(1.002, temperature_c) == pytest.approx(mpa_s, rel=0.02)


def test_few_grains_thicken_a_liquid_as_einstein_found_and_many_far_more():
    # Einstein (1911): 1 + 2.5 phi for a dilute suspension of spheres.
    assert thickening_share(0.01) == pytest.approx(1.025, abs=1e-3)
    # Krieger & Dougherty (1959), worked out by hand: (1 - 0.3/0.63)^-1.575 and (1 - 0.5/0.63)^-1.575.
    assert thickening_share(0.30) == pytest.approx(2.768, abs=2e-3)
    assert thickening_share(0.50) == pytest.approx(12.0, rel=0.01)
    # Batchelor & Green (1972), second order: 1 + 2.5 phi + 7.6 phi^2 at 5 % (coefficient from memory).
    assert thickening_share(0.05) == pytest.approx(1.144, rel=0.01)
