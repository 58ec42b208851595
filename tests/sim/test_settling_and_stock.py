"""Grains fall as the textbooks say, and a bottle that is not agitated gives sludge or thin liquid."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sim.settling import hindered_share, stokes_velocity_m_s, terminal_velocity_m_s
from sim.stock import LAYERS, Stock, Suspended
from sim.viscosity import water_density_kg_m3, water_viscosity_mpa_s

COAL = (0.208e-3, 1800.0, 994.6, 8.931e-4)
GYPSUM = Suspended(20.0, 2.32, 0.12, 1.05, 20.0)


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


def stood(hours, agitated_s=0.0):
    stock = Stock(4000.0, GYPSUM)
    stock.advance(hours * 3600.0, agitated=False)
    stock.advance(agitated_s, agitated=True)
    return stock


def test_a_bottle_agitated_as_planned_delivers_its_label():
    stock = stood(12.0, agitated_s=60.0)
    assert stock.draw(300.0).solids_share == pytest.approx(1.0, abs=0.02)


def test_an_unagitated_bottle_is_off_by_more_than_a_fifth_both_ways():
    stock = stood(24.0)
    shares = [stock.draw(100.0).solids_share for _ in range(35)]
    assert max(shares) > 1.2
    assert min(shares) < 0.8


def test_solids_are_conserved_while_a_bottle_settles_and_is_drawn_from():
    stock = stood(6.0)
    drawn = 0.0
    for _ in range(20):
        share = stock.draw(50.0)
        drawn += share.ml * share.solids_share
        stock.advance(600.0, agitated=False)
    left = stock.volume_ml * sum(stock.layers) / LAYERS
    assert drawn + left == pytest.approx(4000.0, rel=1e-9)


@settings(max_examples=30, deadline=None)
@given(steps=st.lists(st.tuples(st.floats(0.0, 40.0), st.floats(0.0, 9000.0), st.booleans()), max_size=15))
def test_no_layer_ever_holds_less_than_nothing(steps):
    stock = Stock(800.0, GYPSUM)
    drawn = 0.0
    for ml, wait_s, agitated in steps:
        stock.advance(wait_s, agitated)
        share = stock.draw(ml)
        drawn += share.ml * share.solids_share
        assert min(stock.layers) >= -1e-12
    assert drawn + stock.volume_ml * sum(stock.layers) / LAYERS == pytest.approx(800.0, rel=1e-9)


def test_drawing_from_an_even_bottle_leaves_it_even():
    stock = Stock(4000.0, GYPSUM, unreachable_ml=1800.0)
    for _ in range(20):
        assert stock.draw(90.0).solids_share == pytest.approx(1.0, rel=1e-9)
    assert stock.layers == pytest.approx([1.0] * LAYERS, rel=1e-9)


def test_an_empty_bottle_gives_less_than_was_asked():
    stock = Stock(500.0, unreachable_ml=100.0, area_cm2=100.0)
    assert stock.draw(300.0).ml == 300.0
    assert stock.draw(300.0).ml == pytest.approx(100.0)
    assert stock.draw(300.0).ml == 0.0
    assert stock.volume_ml == pytest.approx(100.0)


def test_waiting_in_one_piece_or_in_many_settles_alike():
    once, often = Stock(4000.0, GYPSUM), Stock(4000.0, GYPSUM)
    once.advance(7200.0, agitated=False)
    for _ in range(720):
        often.advance(10.0, agitated=False)
    assert once.draw(10.0) == often.draw(10.0)


@pytest.mark.timeout(20)
def test_a_bag_that_a_tube_empties_to_the_last_drop_gives_all_its_solids_and_then_nothing():
    bag = Stock(300.0, GYPSUM, unreachable_ml=0.0)
    bag.advance(3600.0, agitated=False)
    drawn = [bag.draw(100.0) for _ in range(4)]
    assert sum(share.ml for share in drawn) == pytest.approx(300.0)
    assert sum(share.ml * share.solids_share for share in drawn) == pytest.approx(300.0, rel=1e-9)
    bag.advance(3600.0, agitated=False)
    bag.advance(60.0, agitated=True)
    assert (bag.draw(1.0).ml, bag.volume_ml) == (0.0, 0.0)
