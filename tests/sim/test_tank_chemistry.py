"""CO2, grains and early readings in the simulated tank."""

import math

import pytest

from sim.matter.ions import INDEX, parcel
from sim.vessel.tank import Tank
from sim.water import solve

AREA_M2 = math.pi / 4.0 * 0.6**2


def tank_with(totals_mmol_l, litres=180.0, temperature_c=20.0, **made_with):
    tank = Tank(AREA_M2, 15.0, room_c=temperature_c, **made_with)
    content = {name: mmol * litres for name, mmol in totals_mmol_l.items()}
    tank.add(litres * 1e3, parcel(content, litres, temperature_c))
    return tank


def test_a_long_aerated_tank_reaches_the_ph_of_open_water():
    # Check value: PHREEQC 3.8.9, 2 mmol/kg NaHCO3 in air of 400 ppm at 20 deg C: 8.454.
    tank = tank_with({"Na": 2.0, "carbonate": 2.0}, litres=60.0, co2_ppm=400.0)
    for _ in range(48):
        tank.advance(1800.0, 60.0, True)
    assert tank.ph_true() == pytest.approx(8.454, abs=0.02)


def test_air_never_takes_more_than_equilibrium_in_one_long_step():
    totals = {"Na": 2.0, "carbonate": 2.0, "strong_acid": 1.5}
    tank = tank_with(totals, litres=20.0)
    tank.advance(4.0 * 3600.0, 60.0, True)
    assert tank.ph_true() == pytest.approx(solve(totals, 20.0, "open", co2_ppm=420.0).ph, abs=0.02)


def test_acidified_bicarbonate_water_drifts_up_faster_the_more_it_is_moved():
    def risen(stir_l_min, air):
        tank = tank_with({"Na": 2.0, "carbonate": 2.05, "strong_acid": 1.4})
        start = tank.ph_true()
        tank.advance(600.0, stir_l_min, air)
        return tank.ph_true() - start

    still, stirred, aerated = risen(0.0, False), risen(60.0, False), risen(60.0, True)
    assert 0.0 < still < 0.01
    assert 0.02 < stirred < 0.2
    assert stirred < aerated


def test_a_mineral_acid_rebounds_more_than_citric_acid():
    # The order that PHREEQC gives for full aeration after a trim to pH 6: sulfuric 7.99, citric 7.60.
    rebounds = {}
    for acid, per_litre in (("strong_acid", 1.36), ("citrate", 0.59)):
        tank = tank_with({"Na": 2.0, "carbonate": 2.0, acid: per_litre})
        start = tank.ph_true()
        assert start == pytest.approx(6.0, abs=0.1)
        tank.advance(4.0 * 3600.0, 60.0, True)
        rebounds[acid] = tank.ph_true() - start
    assert rebounds["strong_acid"] > rebounds["citrate"] + 0.1


def test_a_reading_taken_before_mixing_is_wrong():
    tank = tank_with({"Na": 2.0, "carbonate": 2.1})
    tank.add(100.0, parcel({"citrate": 100.0}, 0.1, 20.0))
    tank.advance(5.0, 60.0, False)
    early = tank.ph_at_probe() - tank.ph_true()
    tank.advance(90.0, 60.0, False)
    late = tank.ph_at_probe() - tank.ph_true()
    assert early > 0.5
    assert abs(late) < 0.01


def test_gypsum_dissolves_within_minutes_and_only_to_saturation():
    tank = tank_with({"Na": 1.0, "Cl": 1.0})
    tank.add(100.0, parcel({"gypsum": 180.0 * 2.0}, 0.1, 20.0))
    tank.advance(300.0, 60.0, False)
    assert tank.content()[INDEX["Ca"]] == pytest.approx(360.0, rel=0.01)
    tank.add(100.0, parcel({"gypsum": 180.0 * 40.0}, 0.1, 20.0))
    tank.advance(7200.0, 60.0, False)
    # Gypsum solubility at 20 deg C: 14.8 mmol/kg (PHREEQC).
    assert tank.content()[INDEX["Ca"]] / tank.volume_l == pytest.approx(14.8, rel=0.05)


def test_limestone_raises_ph_over_hours_not_minutes():
    tank = tank_with({"Na": 2.0, "carbonate": 2.0, "citrate": 0.9})
    start = tank.ph_true()
    tank.add(100.0, parcel({"limestone": 180.0}, 0.1, 20.0))
    tank.advance(300.0, 60.0, False)
    soon = tank.ph_true()
    tank.advance(4.0 * 3600.0, 60.0, False)
    later = tank.ph_true()
    assert start < soon < start + 0.1
    assert later > start + 0.3


def test_hard_water_with_limestone_ends_where_calcite_and_the_air_hold_each_other():
    # Calcite with air of 400 ppm holds Ca 0.54 mmol/kg at pH 8.22 and 25 deg C (PHREEQC).
    tank = tank_with({"Ca": 1.2, "carbonate": 2.4}, litres=20.0, temperature_c=25.0, co2_ppm=400.0)
    tank.add(100.0, parcel({"limestone": 1200.0}, 0.1, 25.0))
    tank.advance(4.0 * 3600.0, 60.0, True)
    assert tank.content()[INDEX["Ca"]] / tank.volume_l == pytest.approx(0.54, rel=0.03)
    assert tank.ph_true() == pytest.approx(8.22, abs=0.02)


def test_concentrates_that_meet_undiluted_drop_gypsum_and_the_full_tank_dissolves_it_again():
    tank = tank_with({"Ca": 300.0, "NO3": 600.0}, litres=3.0)
    tank.add(3000.0, parcel({"K": 1800.0, "SO4": 900.0}, 3.0, 20.0))
    tank.advance(1200.0, 60.0, False)
    grains = tank.content()[INDEX["gypsum"]]
    assert grains > 600.0
    assert tank.content()[INDEX["Ca"]] + grains == pytest.approx(900.0)
    tank.add(194_000.0, parcel({}, 194.0, 20.0))
    tank.advance(600.0, 60.0, False)
    assert tank.content()[INDEX["gypsum"]] < 1.0


def test_minerals_move_the_same_in_one_long_wait_and_in_many_short_ones():
    contents = []
    for waits, dt_s in ((1, 3600.0), (3600, 1.0), (14400, 0.25)):
        tank = tank_with({"Ca": 5.0, "NO3": 10.0, "K": 10.0, "phosphate": 6.0}, litres=60.0)
        tank.add(100.0, parcel({"gypsum": 600.0, "limestone": 60.0}, 0.1, 20.0))
        for _ in range(waits):
            tank.advance(dt_s, 60.0, False)
        contents.append(tank.content())
    assert contents[0][INDEX["brushite"]] > 100.0
    for content in contents[1:]:
        assert content == pytest.approx(contents[0], rel=1e-2)


def test_grains_lie_on_the_floor_of_a_still_tank_and_rise_when_it_is_stirred():
    tank = tank_with({"Na": 1.0, "Cl": 1.0})
    tank.add(100.0, parcel({"inert": 100.0}, 0.1, 20.0))
    tank.advance(8.0 * 3600.0, 0.0, False)
    assert tank.floor[2] > 80.0
    tank.advance(60.0, 60.0, False)
    assert tank.floor[2] < 10.0
    assert tank.content()[INDEX["inert"]] + tank.floor[2] == pytest.approx(100.0)
