"""All sensors joined on the demo site's plant: what each sees of tank, supply and what runs nearby."""

import math
from functools import partial

import pytest
from sensed_plant import run, sensed_plant

from sim.matter.ions import parcel
from sim.sensing import flow_meter
from sim.sensing.disturbance import Disturbance
from sim.true_instruments import TrueFlowMeter, TrueLevel, TrueProbe, TrueThermometers
from sim.vessel.layers import Layer

EXACT_LEVEL = TrueLevel(level_noise_mm=0.0, slosh_mm=0.0)


@pytest.fixture
def plant_with(demo_site, demo_world):
    return partial(sensed_plant, demo_site, demo_world)


def test_the_probe_tells_the_tanks_ph_once_it_has_come_to_rest(plant_with, demo_world):
    plant = plant_with(
        probe=TrueProbe(drift_mv_h=0.0, reference_wander_mv=0.0, noise_mv=0.0, junction_mv=0.0)
    )
    run(plant, 600.0)
    slope = 59.159 * (plant.tank.temperature_c + 273.15) / 298.15
    assert plant.instruments.ph_mv(600.0) == pytest.approx(-slope * (plant.tank.ph_at_probe() - 7.0), abs=0.1)


def test_the_probe_hangs_in_air_until_the_water_reaches_it(plant_with, demo_world):
    plant = plant_with(water_l=0.0)
    height_mm = demo_world.probe.probe_height_mm
    litres = height_mm * plant.tank.area_m2
    assert not plant.instruments.probe.wet
    plant.tank.add(0.9 * litres * 1e3, demo_world.supply.content(0.9 * litres * 1e3))
    plant.advance(5.0)
    assert not plant.instruments.probe.wet
    assert plant.instruments.ec_us_cm(5.0) == 0.0
    plant.tank.add(0.2 * litres * 1e3, demo_world.supply.content(0.2 * litres * 1e3))
    plant.advance(5.0)
    assert plant.instruments.probe.wet
    assert plant.instruments.ec_us_cm(10.0) > 300.0


def test_over_the_water_a_probe_does_not_read_a_steady_ph_7(plant_with):
    plant = plant_with(water_l=0.0)
    readings = []
    for tick in range(120):
        run(plant, 10.0, 10.0)
        readings.append(plant.instruments.ph_mv(10.0 * tick))
    assert max(readings) - min(readings) > 10.0


def test_a_dry_tanks_thermometer_shows_the_air(plant_with, demo_world):
    plant = plant_with(water_l=50.0)
    run(plant, 300.0)
    assert plant.instruments.tank_c(300.0) < demo_world.room.temperature_c - 1.0
    plant.tank.remove(49.0)
    run(plant, 300.0)
    assert plant.instruments.tank_c(600.0) == pytest.approx(demo_world.room.temperature_c, abs=0.1)


def test_the_supply_thermometer_shows_the_supply_only_while_it_runs(plant_with, demo_world):
    plant = plant_with()
    assert plant.instruments.supply_c(0.0) == pytest.approx(demo_world.room.temperature_c, abs=0.1)
    plant.valve = True
    run(plant, 120.0, 0.25)
    assert plant.instruments.supply_c(0.0) == pytest.approx(demo_world.supply.temperature_c, abs=0.1)
    plant.valve = False
    run(plant, 1800.0 + 10.0)
    # Half an hour is one time constant of the still pipe; the first seconds still run out of it.
    warmed = (plant.instruments.supply_c(0.0) - 15.5) / (18.0 - 15.5)
    assert warmed == pytest.approx(1.0 - math.exp(-1.0), abs=0.03)


def test_how_often_one_looks_changes_no_later_reading(plant_with):
    def reading(looks):
        plant = plant_with(water_l=60.0)
        plant.stir = True
        for tick in range(600):
            plant.advance(0.5)
            if looks:
                plant.instruments.ph_mv(0.5 * tick)
                plant.instruments.ec_us_cm(0.5 * tick)
                plant.instruments.supply_c(0.5 * tick)
        return (
            plant.instruments.ph_mv(300.0),
            plant.instruments.ec_us_cm(300.0),
            plant.instruments.tank_c(300.0),
            plant.instruments.level_mm(300.0),
        )

    assert reading(True) == pytest.approx(reading(False), rel=1e-3, abs=0.05)


def test_what_has_just_been_switched_counts_from_then_on(plant_with):
    plant = plant_with()
    run(plant, 600.0)
    quiet_mv = plant.instruments.ph_mv(600.0)
    plant.instruments.near = Disturbance(stir=True)
    assert plant.instruments.ph_mv(600.0) - quiet_mv > 1.4
    plant.instruments.near = Disturbance()
    assert plant.instruments.ph_mv(600.0) == pytest.approx(quiet_mv, abs=1e-9)


def test_the_time_before_a_switch_belongs_to_what_ran_then(plant_with):
    plant = plant_with(thermometers=TrueThermometers(thermometer_noise_c=0.0, thermometer_lag_s=2.0))
    instruments = plant.instruments
    instruments.near = Disturbance(filling=True)
    before_c = instruments.supply_c(0.0)
    instruments.advance(1.0)
    instruments.near = Disturbance()
    share = (before_c - instruments.supply_c(0.0)) / (before_c - 15.5)
    assert share == pytest.approx(1.0 - math.exp(-0.5), rel=1e-6)


QUIET_PROBE = TrueProbe(
    drift_mv_h=0.0, reference_wander_mv=0.0, noise_mv=0.0, junction_mv=0.0, streaming_mv=0.0, stray_air_mv=0.0
)


def frothing(plant_with, foamer_ml, air=True, foam_l=0.0):
    """Give acid to a plant with a foaming input; return what the glass lacks after 10 s and its jumps, mV."""
    plant = plant_with(probe=QUIET_PROBE)
    plant.air = air
    plant.tank.add(0.0, parcel({"foamer": foamer_ml}), at=Layer.BOTTOM)
    run(plant, 300.0)
    plant.tank.foam.volume_l = foam_l
    rough = [plant.instruments.ph_mv(0.1 * tick) for tick in range(100)]
    for layer in (Layer.TOP, Layer.MIDDLE, Layer.BOTTOM):
        plant.tank.add(1.0, parcel({"strong_acid": 15.0}, 1e-3, 18.0), at=layer)
    # Letting out nothing makes the tank look at its water anew.
    plant.tank.remove(0.0)
    plant.tank.foam.volume_l = foam_l
    probe = plant.instruments.probe
    plant.instruments.ph_mv(300.0)
    behind = probe.glass_ph - plant.tank.ph_at_probe()
    plant.tank.foam.volume_l = foam_l
    run(plant, 10.0)
    plant.instruments.ph_mv(310.0)
    return (probe.glass_ph - plant.tank.ph_at_probe()) / behind, max(rough) - min(rough)


def test_bubbles_that_a_foaming_input_keeps_alive_slow_the_probe_and_roughen_it(plant_with):
    clear_left, clear_mv = frothing(plant_with, foamer_ml=0.0)
    left, rough_mv = frothing(plant_with, foamer_ml=100.0)
    assert left > clear_left + 0.1
    assert rough_mv > clear_mv + 3.0
    # Without air nothing bubbles.
    still_left, still_mv = frothing(plant_with, foamer_ml=100.0, air=False)
    assert still_left < clear_left + 0.1
    assert still_mv < clear_mv + 0.5


def test_foam_that_stands_spoils_the_probe_without_air_too(plant_with):
    still_left, still_mv = frothing(plant_with, foamer_ml=100.0, air=False)
    left, rough_mv = frothing(plant_with, foamer_ml=100.0, air=False, foam_l=60.0)
    assert left > still_left + 0.05
    assert rough_mv > still_mv + 2.0


def test_thin_water_streams_past_the_probe_and_strays_more_than_tap_water(plant_with):
    """Streaming voltage goes with the resistance of the water: 1.5 mV at 100 uS/cm with stirring."""
    added = {}
    for name, share in (("tap", 1.0), ("thin", 0.05)):
        plant = plant_with(water_l=0.0, probe=TrueProbe(noise_mv=0.0, stray_mv=0.0, reference_wander_mv=0.0))
        water = plant.instruments.supply.content(1e5)
        content = [amount * share for amount in water[:-1]] + [water[-1]]
        plant.tank.add(1e5, content)
        run(plant, 60.0)
        us_cm = plant.tank.ec_at_probe()
        before_mv = plant.instruments.ph_mv(60.0)
        plant.instruments.near = Disturbance(stir=True)
        added[name] = plant.instruments.ph_mv(60.0) - before_mv
        assert added[name] == pytest.approx(1.5 * 100.0 / us_cm, rel=1e-3)
    assert added["thin"] > 10.0 * added["tap"] > 0.0


def test_foam_on_the_water_lifts_the_level_by_its_share(plant_with):
    plant = plant_with(level=EXACT_LEVEL)
    still_mm = plant.instruments.level_mm(0.0)
    assert still_mm == pytest.approx(plant.tank.level_mm)
    plant.tank.foam.volume_l = 0.05 * plant.tank.area_m2 * 1e3
    assert plant.instruments.level_mm(0.0) - still_mm == pytest.approx(0.3 * 50.0)


def test_the_flow_meter_counts_what_the_valve_lets_through(plant_with, demo_site):
    plant = plant_with(water_l=0.0)
    plant.valve = True
    run(plant, 300.0, 0.25)
    litres = plant.instruments.flow_pulses() / demo_site.rig.fill.pulses_per_l
    assert litres == pytest.approx(plant.supply.delivered_ml * 1e-3 * 1.004, abs=0.01)
    assert litres > 50.0


def test_a_supply_that_only_trickles_is_not_counted(plant_with):
    plant = plant_with(water_l=0.0, flow_meter=TrueFlowMeter(least_l_min=20.0))
    plant.valve = True
    run(plant, 120.0, 0.25)
    assert plant.supply.delivered_ml > 10_000.0
    assert plant.instruments.flow_pulses() == 0


def test_a_jammed_flow_meter_stands_still(plant_with):
    plant = plant_with(water_l=0.0)
    plant.valve = True
    run(plant, 60.0, 0.25)
    before = plant.instruments.flow_pulses()
    plant.instruments.flow_meter.condition = flow_meter.STUCK
    run(plant, 60.0, 0.25)
    assert plant.instruments.flow_pulses() == before > 0
