"""How much acid bicarbonate water needs, and where its pH goes as CO2 leaves."""

import math

import pytest

from sim.matter.gas_exchange import co2_velocity_m_s
from sim.matter.ions import CARBONATE, parcel
from sim.vessel.tank import Tank
from sim.water import solve

WATER = {"Na": 2.0, "carbonate": 2.0}
AREA_M2 = math.pi / 4.0 * 0.6**2

# 2 mmol/kg NaHCO3 at 25 deg C by an independent Davies charge-balance solver that follows PHREEQC 3.8.9
# within 0.003: target pH, then mmol/kg of acid in closed water and the pH later in air of 400 ppm.
NEEDED = {
    6.3: {"SO4": (0.516, 8.17), "phosphate": (0.917, 7.73), "citrate": (0.412, 8.07)},
    6.0: {"SO4": (0.681, 7.99), "phosphate": (1.276, 7.12), "citrate": (0.589, 7.60)},
    5.8: {"SO4": (0.772, 7.85), "phosphate": (1.481, 6.81), "citrate": (0.705, 6.80)},
    5.5: {"SO4": (0.872, 7.60), "phosphate": (1.708, 6.42), "citrate": (0.866, 5.98)},
}
STABLE_SULFURIC = {6.3: 0.994, 6.0: 0.997, 5.8: 0.999, 5.5: 1.001}


def acid_for(ph, acid, co2):
    """Return the mmol/kg of an acid that brings the water to a pH."""
    low, high = 0.0, 4.0
    for _ in range(50):
        amount = 0.5 * (low + high)
        found = solve(WATER | {acid: amount}, 25.0, co2).ph
        low, high = (amount, high) if found > ph else (low, amount)
    return amount


@pytest.mark.parametrize("acid", ["SO4", "phosphate", "citrate"])
@pytest.mark.parametrize("target_ph", NEEDED)
def test_acid_for_a_target_and_the_rebound_are_as_an_independent_solver_says(target_ph, acid):
    expected_mmol, later_ph = NEEDED[target_ph][acid]
    found_mmol = acid_for(target_ph, acid, "closed")
    assert found_mmol == pytest.approx(expected_mmol, rel=0.01)
    assert solve(WATER | {acid: found_mmol}, 25.0, "open").ph == pytest.approx(later_ph, abs=0.02)


@pytest.mark.parametrize(("target_ph", "mmol"), STABLE_SULFURIC.items())
def test_sulfuric_acid_for_a_lasting_target_is_all_but_the_bicarbonate(target_ph, mmol):
    assert acid_for(target_ph, "SO4", "open") == pytest.approx(mmol, rel=0.002)


def test_at_ph_5_and_a_half_mineral_acid_drifts_most_phosphoric_less_and_citric_least():
    later = {
        acid: solve(WATER | {acid: acid_for(5.5, acid, "closed")}, 25.0, "open").ph for acid in NEEDED[5.5]
    }
    assert later["SO4"] > later["phosphate"] + 1.0
    assert later["phosphate"] > later["citrate"] + 0.3


def tank_of(totals, litres=60.0):
    tank = Tank(AREA_M2, 15.0, room_c=20.0, co2_ppm=400.0)
    tank.add(litres * 1e3, parcel({name: mmol * litres for name, mmol in totals.items()}, litres, 20.0))
    return tank


def test_still_stirred_and_aerated_water_give_co2_off_at_centimetres_per_hour():
    # Indoor still water 1 cm/h, a jet's surface tens, coarse bubbles about a hundred (engineering ranges).
    cm_h = 0.01 / 3600.0
    assert co2_velocity_m_s(0.0, False) == pytest.approx(1.0 * cm_h)
    assert 20.0 * cm_h < co2_velocity_m_s(60.0, False) < 100.0 * cm_h
    assert co2_velocity_m_s(30.0, False) < co2_velocity_m_s(60.0, False)
    assert 60.0 * cm_h < co2_velocity_m_s(0.0, True) < co2_velocity_m_s(60.0, True) < 200.0 * cm_h


@pytest.mark.parametrize(("stir_l_min", "air_on"), [(60.0, False), (60.0, True), (30.0, True)])
def test_co2_in_acid_water_halves_in_the_time_of_the_two_film_formula(stir_l_min, air_on):
    # Resistance in the water: excess = excess0 exp(-k t / depth), so t1/2 = ln 2 x depth / k.
    tank = tank_of({"Na": 2.0, "carbonate": 2.0, "strong_acid": 3.0})
    held_mmol = solve({"Na": 2.0, "strong_acid": 3.0}, 20.0, "open").carbonate_mmol_per_kg * 60.0
    depth_m = 60.0e-3 / AREA_M2
    excess_mmol = tank.content()[CARBONATE] - held_mmol
    tank.advance(math.log(2.0) * depth_m / co2_velocity_m_s(stir_l_min, air_on), stir_l_min, air_on)
    assert (tank.content()[CARBONATE] - held_mmol) / excess_mmol == pytest.approx(0.5, abs=0.03)


def test_bicarbonate_water_loses_co2_as_small_steps_of_the_film_equation_say():
    totals = {"Na": 2.0, "strong_acid": 1.5}
    velocity_m_s, depth_m = co2_velocity_m_s(60.0, True), 60.0e-3 / AREA_M2
    held = solve(totals, 20.0, "open").co2_mmol_per_kg
    carbonate, dt_s = 2.0, 2.5
    for _ in range(360):
        co2 = solve(totals | {"carbonate": carbonate}, 20.0).co2_mmol_per_kg
        carbonate -= velocity_m_s / depth_m * (co2 - held) * dt_s
    expected_ph = solve(totals | {"carbonate": carbonate}, 20.0).ph
    tank = tank_of(totals | {"carbonate": 2.0})
    start_ph = tank.ph_true()
    tank.advance(900.0, 60.0, True)
    assert expected_ph > start_ph + 0.5
    assert tank.ph_true() == pytest.approx(expected_ph, abs=0.05)
