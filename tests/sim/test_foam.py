"""Foam on the simulated tank: none without a foamer, gas x life with one, and how it fools the level sensor.

Steady foam is gas flow x life (Bikerman, Trans. Faraday Soc. 34 (1938) 634, from memory); the figures of life
and gas are assumed, so that what is held here is the law and the order of magnitude.
"""

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from controller.run.sequence import ENDS
from sim.matter.ions import FOAMER, INDEX, parcel
from sim.night import Night
from sim.plant import Plant
from sim.vessel.foam import AIR_L_S, HALF_ML_L, LIFE_S, MOST_MM, WETNESS, Foam, life_s, rising_gas_l_s
from sim.vessel.layers import ALL_IN, Layer, Layers
from sim.vessel.tank import Tank

AREA_M2 = math.pi / 4.0 * 0.6**2
LITRES = 180.0


def tank_of(foamer_ml_l, litres=LITRES, **made_with):
    tank = Tank(AREA_M2, 15.0, **made_with)
    content = {"Na": litres, "Cl": litres, "foamer": foamer_ml_l * litres}
    tank.add(litres * 1e3, parcel(content, litres, 18.0))
    return tank


def blown(gas_l_s, foamer_ml_l, seconds, steps=1):
    """Foam over 180 L that gets this gas."""
    water, foam = Layers(), Foam()
    water.add(LITRES, parcel({"foamer": foamer_ml_l * LITRES}, LITRES, 18.0), ALL_IN[Layer.TOP])
    for _ in range(steps):
        foam.advance(seconds / steps, gas_l_s, water, 10.0, math.inf)
    return foam.volume_l


def test_nothing_foams_without_a_foamer():
    tank = tank_of(0.0, litres=60.0)
    tank.add(20_000.0, parcel({}, 20.0, 18.0), plunging=True)
    tank.advance(600.0, 90.0, True)
    assert (tank.foam_mm, tank.overflow_l, tank.volume_l) == (0.0, 0.0, 80.0)


def test_foam_stays_away_where_no_gas_rises():
    tank = tank_of(0.5)
    tank.advance(3600.0, 60.0, False)
    tank.advance(3600.0, 0.0, False)
    assert tank.foam_mm < 1.0


def test_steady_foam_is_gas_flow_times_life():
    for gas_l_s in (0.02, 0.04):
        assert blown(gas_l_s, 0.5, 1e5) == pytest.approx(gas_l_s * life_s(0.5), rel=0.01)


def test_foam_grows_like_its_differential_equation():
    life = life_s(0.5)
    solved = solve_ivp(lambda _, v: 0.04 - v / life, (0.0, 100.0), [0.0], rtol=1e-9, atol=1e-12)
    # What the foam draws from the top layer changes the foamer in neither.
    assert blown(0.04, 0.5, 100.0) == pytest.approx(solved.y[0, -1], rel=1e-6)
    assert blown(0.04, 0.5, 100.0, steps=400) == pytest.approx(solved.y[0, -1], rel=1e-6)


def test_more_foamer_makes_longer_lived_foam_up_to_a_limit():
    lives = [life_s(ml_l) for ml_l in (0.0, 0.05, HALF_ML_L, 1.0, 100.0)]
    assert lives[0] == 0.0
    assert lives == sorted(lives)
    assert lives[2] == pytest.approx(0.5 * LIFE_S)
    assert 0.99 * LIFE_S < lives[-1] < LIFE_S


def test_foam_halves_in_its_half_life_when_the_air_goes_off():
    tank = tank_of(0.5)
    tank.advance(600.0, 0.0, True)
    full_mm = tank.foam_mm
    half_life_s = math.log(2.0) * life_s(0.5)
    seconds = 20.0 * round(half_life_s / 20.0)
    tank.advance(seconds, 0.0, False)
    assert tank.foam_mm == pytest.approx(full_mm * 0.5 ** (seconds / half_life_s), rel=0.01)
    tank.advance(3600.0, 0.0, False)
    assert tank.foam_mm < 1e-3


def test_the_air_pump_raises_a_hand_of_foam_and_the_water_falls_by_what_is_in_it():
    tank = tank_of(0.5)
    start_mm = tank.level_mm
    tank.advance(900.0, 0.0, True)
    assert tank.foam_mm == pytest.approx(AIR_L_S * life_s(0.5) / AREA_M2, rel=0.01)
    assert 80.0 < tank.foam_mm < 250.0
    assert start_mm - tank.level_mm == pytest.approx(WETNESS * tank.foam_mm, rel=1e-6)
    assert tank.volume_l == pytest.approx(LITRES, rel=1e-9)
    tank.advance(3600.0, 0.0, False)
    assert tank.level_mm == pytest.approx(start_mm, rel=1e-6)
    assert tank.content()[FOAMER] == pytest.approx(0.5 * LITRES, rel=1e-9)


def test_foam_stands_no_higher_than_it_bears():
    water, foam = Layers(), Foam()
    water.add(LITRES, parcel({"foamer": 900.0}, LITRES, 18.0), ALL_IN[Layer.TOP])
    for _ in range(300):
        foam.advance(2.0, 5.0, water, AREA_M2, math.inf)
    assert foam.volume_l / AREA_M2 == pytest.approx(MOST_MM)


def test_foam_above_the_brim_runs_over_and_takes_feed_with_it():
    tank = tank_of(0.5, brim_l=200.0)
    tank.advance(1800.0, 0.0, True)
    assert tank.level_mm + tank.foam_mm <= 200.0 / AREA_M2 + 1e-6
    assert tank.overflow_l > 1.0
    assert tank.volume_l + tank.overflow_l == pytest.approx(LITRES, rel=1e-9)
    for name in ("Na", "Cl", "foamer"):
        kept, lost = tank.content()[INDEX[name]], tank.foam.spilled[INDEX[name]]
        assert lost > 0.0
        assert kept + lost == pytest.approx(LITRES * (0.5 if name == "foamer" else 1.0), rel=1e-9)


def test_the_plants_tank_runs_over_at_the_brim_of_its_site(demo_site, demo_world):
    assert Plant(demo_site, demo_world, 1).tank.brim_l == demo_site.rig.tank.brim_l


def test_foam_on_a_tank_that_has_run_dry_falls_back_into_it():
    tank = tank_of(0.5)
    tank.advance(900.0, 0.0, True)
    tank.remove(LITRES)
    hanging_l = tank.volume_l
    assert hanging_l > 1.0
    tank.advance(1.0, 0.0, False)
    assert (tank.foam_mm, tank.level_mm) == (0.0, pytest.approx(hanging_l / AREA_M2))


def test_only_a_strong_jet_near_the_surface_beats_air_in():
    # The demo's stir pump moves 6 x 5.66 m/s x 15 mm / 0.637 m = 0.8 m/s at the surface of a full tank.
    assert rising_gas_l_s(False, 60.0, 15.0, 0.637) == 0.0
    assert rising_gas_l_s(False, 60.0, 15.0, 0.2) > 0.0
    assert rising_gas_l_s(False, 90.0, 10.0, 0.637) > 0.01
    assert rising_gas_l_s(True, 0.0, 15.0, 0.637) == pytest.approx(20.0 / 60.0)
    strong = Tank(AREA_M2, 8.0)
    strong.add(120_000.0, parcel({"foamer": 60.0}, 120.0, 18.0))
    strong.advance(600.0, 90.0, False)
    assert strong.foam_mm > 20.0


def test_water_that_falls_in_raises_some_foam():
    tank = tank_of(0.5, litres=120.0)
    for _ in range(240):
        tank.add(100.0, parcel({}, 0.1, 18.0), plunging=True)
        tank.advance(0.5, 0.0, False)
    # 24 L in two minutes: 0.01 L/s of air.
    assert 1.0 < tank.foam_mm < 10.0


@settings(max_examples=25, deadline=None)
@given(
    foamer_ml_l=st.floats(0.0, 20.0),
    litres=st.floats(0.01, 230.0),
    moves=st.lists(
        st.tuples(st.floats(0.0, 2000.0), st.sampled_from([0.0, 30.0, 90.0]), st.booleans()), max_size=5
    ),
)
def test_foam_keeps_what_there_is_at_any_step(foamer_ml_l, litres, moves):
    tank = tank_of(foamer_ml_l, litres, brim_l=220.0)
    for dt_s, flow_l_min, air in moves:
        tank.advance(dt_s, flow_l_min, air)
        assert tank.foam_mm <= MOST_MM + 1e-6
    assert tank.volume_l + tank.overflow_l == pytest.approx(litres, rel=1e-9)
    foamer = tank.content()[FOAMER] + tank.foam.spilled[FOAMER]
    assert foamer == pytest.approx(foamer_ml_l * litres, rel=1e-9, abs=1e-12)


def wrong_by_mm(demo_site, world, air):
    """How far the level sensor is off after ten minutes with soapbark in a full tank."""
    plant = Plant(demo_site, world, 1)
    plant.tank.add(135_000.0, world.supply.content(135_000.0))
    plant.tank.add(90.0, world.inputs["soapbark_extract"].content(90.0, 1.0, 18.0))
    plant.stir = True
    for _ in range(60):
        plant.advance(1.0)
    plant.stir, plant.air = False, air
    for _ in range(600):
        plant.advance(1.0)
    plant.air = False
    plant.advance(0.0)
    readings = [plant.instruments.level_mm(float(second)) for second in range(20)]
    return sum(readings) / len(readings) - plant.tank.level_mm


def test_soapbark_with_air_on_fools_the_level_sensor_and_without_air_does_not(demo_site, demo_world):
    assert wrong_by_mm(demo_site, demo_world, air=True) > 20.0
    assert abs(wrong_by_mm(demo_site, demo_world, air=False)) < 2.0
    # It is the foamer that does it, not the bubbles.
    soapbark = demo_world.inputs["soapbark_extract"]
    flat = [0.0 if place == FOAMER else amount for place, amount in enumerate(soapbark.dissolved_ml)]
    harmless = replace(soapbark, dissolved_ml=tuple(flat))
    calm = replace(demo_world, inputs={**demo_world.inputs, "soapbark_extract": harmless})
    assert abs(wrong_by_mm(demo_site, calm, air=True)) < 2.0


def test_the_demo_night_is_as_good_as_free_of_foam(demo_site, tmp_path):
    night = Night(demo_site, "fruiting", 1, tmp_path)
    highest_mm, foamer_ml, released = 0.0, 0.0, False
    while not released:
        snapshot = night.step(5.0)
        released = snapshot.released
        assert snapshot.state not in ENDS
        highest_mm = max(highest_mm, night.rig.plant.tank.foam_mm)
        foamer_ml = max(foamer_ml, night.rig.plant.tank.content()[FOAMER])
    night.close()
    assert foamer_ml > 80.0
    assert highest_mm < 15.0
