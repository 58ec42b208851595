"""Plant and rig join their parts as on the real rig: what falls where, what disturbs whom, one supply."""

from dataclasses import replace

import pytest

from controller.run.request import ALL_OFF
from sim.matter.ions import FOAMER, HEAT, INDEX, K, parcel
from sim.plant import Plant
from sim.rig import SimRig
from sim.world import TruePumps

STEADY = {"noise_mv": 0.0, "drift_mv_h": 0.0, "reference_wander_mv": 0.0, "streaming_mv": 0.0}
STIR_MV, AIR_MV, MOTOR_MV = 1.5, 0.4, 0.8
"""Bias by what runs, as the demo's simulated.toml has it."""


def plant_with_water(site, world, litres=100.0):
    plant = Plant(site, world, seed=1)
    plant.tank.add(litres * 1e3, world.supply.content(litres * 1e3))
    return plant


def test_a_dose_no_heavier_than_water_stays_in_the_top_layer_where_it_falls(demo_site, demo_world):
    compost = demo_world.inputs["compost_extract"]
    flat = [0.0 if name == "excess_g" else compost.dissolved_ml[place] for name, place in INDEX.items()]
    light = replace(compost, dissolved_ml=tuple(flat))
    world = replace(
        demo_world,
        inputs={**demo_world.inputs, "compost_extract": light},
        room=replace(demo_world.room, temperature_c=demo_world.supply.temperature_c),
        pumps=TruePumps(calibration_error=0.0),
    )
    plant = plant_with_water(demo_site, world)
    before = [layer[K] for layer in plant.tank.water.parcels]
    plant.pump(plant.dosing.channel_of("compost_extract"), 2000, 40, 1)
    gained = [layer[K] - was for layer, was in zip(plant.tank.water.parcels, before, strict=True)]
    assert sum(gained) > 0.3
    assert gained[0] > 0.95 * sum(gained)


def test_water_that_fills_the_tank_plunges(demo_site, demo_world):
    plant = plant_with_water(demo_site, demo_world)
    plant.tank.add(0.0, parcel({"foamer": 50.0}))
    assert plant.tank.content()[FOAMER] == 50.0
    plant.valve = True
    for _ in range(480):
        plant.advance(0.25)
    # 24 L in two minutes, of which a twentieth of air rises through a foaming input.
    assert 1.0 < plant.tank.foam_mm < 10.0


@pytest.fixture
def rig(demo_site, demo_world):
    world = replace(demo_world, probe=replace(demo_world.probe, junction_mv=0.0, **STEADY))
    rig = SimRig(demo_site, world, 1)
    rig.plant.tank.add(1e5, world.supply.content(1e5))
    rig.write(ALL_OFF)
    go_on(rig, 600.0)
    return rig


def go_on(rig, seconds):
    until_s = rig.now_s + seconds
    while rig.now_s < until_s:
        rig.advance(until_s)
        rig.write(rig.panel.driven)


def shift_mv(rig, switch, *asked):
    """Millivolts that the electrode shifts by within a moment of switching so."""
    before_mv = rig.plant.instruments.ph_mv(rig.now_s)
    switch(*asked)
    go_on(rig, 0.1)
    return rig.plant.instruments.ph_mv(rig.now_s) - before_mv


def test_stir_air_and_motor_each_couple_their_own_stray_into_the_electrode(rig, demo_site):
    assert shift_mv(rig, rig.write, replace(ALL_OFF, stir=True)) == pytest.approx(STIR_MV, abs=0.01)
    assert shift_mv(rig, rig.write, ALL_OFF) == pytest.approx(-STIR_MV, abs=0.01)
    assert shift_mv(rig, rig.write, replace(ALL_OFF, air=True)) == pytest.approx(AIR_MV, abs=0.01)
    assert shift_mv(rig, rig.write, ALL_OFF) == pytest.approx(-AIR_MV, abs=0.01)
    channel = demo_site.rig.pumps["rinse_water"].channel
    assert shift_mv(rig, rig.pins.motor_start, channel, 1000, 40) == pytest.approx(MOTOR_MV, abs=0.01)


def rinse_c(plant, site):
    """How warm rinse water falls, once the common line is full of it."""
    channel = site.rig.pumps["rinse_water"].channel
    for _ in range(2):
        before = plant.tank.content()[HEAT], plant.tank.volume_l
        plant.pump(channel, 4000, 40, 1)
    return (plant.tank.content()[HEAT] - before[0]) / (plant.tank.volume_l - before[1])


def test_rinse_water_is_as_warm_as_the_supply_is_then(demo_site, demo_world):
    swinging = replace(demo_world, supply=replace(demo_world.supply, temperature_c=14.0, swing_k=4.0))
    plant = plant_with_water(demo_site, swinging)
    plant.advance(12600.0)
    assert rinse_c(plant, demo_site) == pytest.approx(10.0, abs=0.05)
    plant.change_supply(32.0)
    assert rinse_c(plant, demo_site) == pytest.approx(28.0, abs=0.05)
