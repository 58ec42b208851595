"""A simulated tank that is filled too far runs over, to the last drop; and what lifts its floats."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sim.matter.ions import INDEX, parcel
from sim.pins import FakePins
from sim.plant import Plant
from sim.pumping.dosing import PUDDLE_ML
from sim.rig import SimRig
from sim.vessel.tank import Tank

AREA_M2 = math.pi / 4.0 * 0.6**2
BRIM_L = 220.0


def test_a_valve_that_is_stuck_open_floods_the_floor_and_wets_the_leak_contact(demo_site, demo_world):
    plant = Plant(demo_site, demo_world, seed=1)
    pins = FakePins(plant, demo_site.rig.tank.high_float_l)
    plant.valve_stuck_open = True
    for _ in range(40 * 60):
        plant.advance(1.0)
    let_in_l = (plant.supply.delivered_ml - plant.supply.pipe_ml) * 1e-3
    assert let_in_l > 400.0
    assert plant.tank.volume_l == pytest.approx(demo_site.rig.tank.brim_l) == pytest.approx(BRIM_L)
    assert plant.tank.overflow_l == pytest.approx(let_in_l - BRIM_L, rel=1e-9)
    assert pins.leak()


def test_foam_that_runs_over_wets_the_leak_contact_once_it_is_a_puddle(demo_site, demo_world):
    plant = Plant(demo_site, demo_world, seed=1)
    pins = FakePins(plant, demo_site.rig.tank.high_float_l)
    plant.tank.add(200_000.0, parcel({"foamer": 100.0}, 200.0, 18.0))
    plant.air = True
    dry_ml, wet_ml = 0.0, 0.0
    for _ in range(600):
        plant.advance(2.0)
        ml = plant.tank.overflow_l * 1e3
        dry_ml, wet_ml = (dry_ml, wet_ml or ml) if pins.leak() else (ml, wet_ml)
    assert dry_ml < PUDDLE_ML <= wet_ml < 1000.0
    assert not plant.dosing.floor_wet


def test_the_top_layer_runs_over_first():
    tank = Tank(AREA_M2, 15.0, brim_l=BRIM_L)
    tank.add(210_000.0, parcel({"Na": 210.0}, 210.0, 18.0))
    tank.add(20_000.0, parcel({"K": 20.0}, 20.0, 18.0))
    assert tank.overflow_l == pytest.approx(10.0)
    # By hand: of the 90 L in the top layer before it passes down what is too much, 20 came last.
    assert tank.foam.spilled[INDEX["K"]] == pytest.approx(10.0 * 20.0 / 90.0)
    assert tank.foam.spilled[INDEX["Na"]] == pytest.approx(10.0 * 70.0 / 90.0)


@settings(max_examples=30, deadline=None)
@given(
    pours=st.lists(st.tuples(st.floats(0.0, 400.0), st.floats(0.0, 300.0)), min_size=1, max_size=6),
    air=st.booleans(),
)
def test_what_goes_in_is_in_the_tank_or_on_the_floor(pours, air):
    tank = Tank(AREA_M2, 15.0, brim_l=BRIM_L)
    for litres, seconds in pours:
        tank.add(litres * 1e3, parcel({"Cl": litres, "Na": litres, "foamer": 0.1 * litres}, litres, 18.0))
        assert tank.water.volume_l <= BRIM_L + 1e-9
        tank.advance(seconds, 0.0, air)
        assert tank.water.volume_l <= BRIM_L + 1e-9
    poured_l = sum(litres for litres, _ in pours)
    assert tank.volume_l + tank.overflow_l == pytest.approx(poured_l, rel=1e-9, abs=1e-9)
    for name, per_l in (("Cl", 1.0), ("foamer", 0.1)):
        there = tank.content()[INDEX[name]] + tank.foam.spilled[INDEX[name]]
        assert there == pytest.approx(per_l * poured_l, rel=1e-9, abs=1e-9)


def test_liquid_that_hangs_in_foam_lifts_no_float(demo_site, demo_world):
    tank_of = demo_site.rig.tank
    rig = SimRig(demo_site, demo_world, 1)
    tank = rig.plant.tank
    for float_l in (tank_of.high_float_l, tank_of.second_high_float_l):
        tank.add((float_l + 0.5 - tank.volume_l) * 1e3, parcel({"foamer": 100.0}, float_l, 18.0))
        tank.advance(60.0, 0.0, True)
        assert tank.water.volume_l < float_l < tank.volume_l
        if float_l == tank_of.high_float_l:
            assert not rig.pins.high_float()
        assert not rig.read().panel.high_float
        tank.advance(7200.0, 0.0, False)
        assert rig.pins.high_float()
    assert rig.read().panel.high_float
    tank.remove(tank.water.volume_l)
    tank.add((tank_of.low_float_l - 1.0) * 1e3, parcel({"foamer": 100.0}, 7.0, 18.0))
    tank.foam.liquid_l += 2.0
    assert rig.read().panel.low_float


def test_what_foam_gives_back_to_a_brimful_tank_runs_over_too():
    tank = Tank(AREA_M2, 15.0, brim_l=BRIM_L)
    tank.add(195_000.0, parcel({"foamer": 100.0}, 195.0, 18.0))
    tank.advance(60.0, 0.0, True)
    hanging_l = tank.foam.liquid_l
    tank.add((BRIM_L - tank.water.volume_l) * 1e3, parcel({}, 25.0, 18.0))
    tank.advance(60.0, 0.0, False)
    assert hanging_l > 0.5
    assert tank.water.volume_l == pytest.approx(BRIM_L)
    assert tank.overflow_l == pytest.approx(hanging_l)
