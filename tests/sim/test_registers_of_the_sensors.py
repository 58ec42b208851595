"""What the board's registers get of the sensors: through the analogue modules, or nothing at all."""

from dataclasses import replace
from functools import partial

import pytest
from bare_sites import unweighed
from sensed_plant import run, sensed_plant

from firmware_bridge.registers import NO_READING
from sim.pins import FakePins
from sim.plant import Plant
from sim.sensing import conductivity_cell, level_sensor, probe_condition, scale, thermometer
from sim.sensing.front_end import converter_decimv
from sim.true_instruments import TrueScales


@pytest.fixture
def plant_with(demo_site, demo_world):
    return partial(sensed_plant, demo_site, demo_world)


@pytest.fixture
def pins_of(demo_site):
    return lambda plant: FakePins(plant, demo_site.rig.tank.high_float_l)


def test_the_board_reads_grams_where_a_scale_is_fitted(plant_with, pins_of, demo_site):
    plant = plant_with(scales=TrueScales(scale_noise_g=0.0))
    pins = pins_of(plant)
    for line in range(5):
        assert pins.read_scale_g(line) == pytest.approx(plant.instruments.scale_g(line, 0.0), abs=0.5)
    assert pins.read_scale_g(5) == NO_READING
    plant.instruments.scales[2].condition = scale.CUT
    assert pins.read_scale_g(2) == NO_READING
    pins.overrides["scale 2"] = 1234
    assert pins.read_scale_g(2) == 1234


def test_no_scale_is_read_where_none_is_fitted(pins_of, demo_site, demo_world):
    pins = pins_of(Plant(unweighed(demo_site), demo_world, seed=1))
    assert {pins.read_scale_g(line) for line in range(5)} == {NO_READING}


def test_registers_get_what_the_sensors_say(plant_with, pins_of):
    plant = plant_with()
    run(plant, 300.0)
    pins, instruments = pins_of(plant), plant.instruments
    assert pins.read_ph_decimv() == pytest.approx(10 * instruments.ph_mv(0.0), abs=0.6)
    assert pins.read_level_decimm() == pytest.approx(10 * instruments.level_mm(0.0), abs=1.0)
    assert pins.read_ec_us_cm() == pytest.approx(instruments.ec_us_cm(0.0), abs=1.0)
    assert pins.read_tank_centic() == pytest.approx(100 * instruments.tank_c(0.0), abs=0.5)


def test_a_module_at_its_rail_or_past_its_span_is_no_reading(plant_with, pins_of):
    plant = plant_with()
    pins, instruments = pins_of(plant), plant.instruments
    instruments.probe.condition = probe_condition.OPEN_INPUT
    instruments.cell.condition = conductivity_cell.SHORTED
    instruments.level.condition = level_sensor.LevelCondition("far out", offset_mm=800.0)
    run(plant, 60.0)
    assert pins.read_ph_decimv() == NO_READING
    assert pins.read_ec_us_cm() == NO_READING
    assert pins.read_level_decimm() == NO_READING


@pytest.mark.parametrize(
    ("output_mv", "decimv"), [(-900.0, 0), (0.04, 0), (1500.0, 15_000), (3299.96, 33_000), (6000.0, 33_000)]
)
def test_a_module_drives_the_converter_no_further_than_its_rails(output_mv, decimv):
    assert converter_decimv(output_mv) == decimv


def test_without_modules_values_go_straight_to_registers(plant_with, pins_of, demo_site, demo_world):
    bare = replace(demo_site, rig=replace(demo_site.rig, board=replace(demo_site.rig.board, front_ends=None)))
    plant = Plant(bare, demo_world, seed=1)
    plant.instruments.probe.condition = probe_condition.OPEN_INPUT
    plant.instruments.cell.condition = conductivity_cell.SHORTED
    run(plant, 60.0)
    pins = FakePins(plant, 190.0)
    assert pins.read_ph_decimv() > 10_000
    assert pins.read_ec_us_cm() == NO_READING


def test_thermometers_that_fail_reach_the_registers_as_they_are(plant_with, pins_of):
    plant = plant_with()
    pins = pins_of(plant)
    plant.instruments.tank_thermometer.condition = thermometer.POWER_UP
    plant.instruments.supply_thermometer.condition = thermometer.CUT
    assert pins.read_tank_centic() == 8500
    assert pins.read_supply_centic() == NO_READING
