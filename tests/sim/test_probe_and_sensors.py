"""Electrode, plain sensors, supply and their noise."""

import math
from itertools import pairwise

import pytest

from sim.noise import gaussian, gaussian_at, seed_for
from sim.probe import PhProbe, nernst_mv_per_ph
from sim.sensors import ConductivityProbe, LevelSensor, Thermometer
from sim.supply import FlowMeter, Supply


# R T ln 10 / F with CODATA 2018, mV per pH.
@pytest.mark.parametrize(
    ("celsius", "mv"), [(0, 54.199), (15, 57.175), (20, 58.167), (25, 59.159), (40, 62.136)]
)
def test_the_nernst_slope_is_the_physical_one(celsius, mv):
    assert nernst_mv_per_ph(celsius) == pytest.approx(mv, abs=6e-4)


def quiet(**changes):
    return PhProbe(**{"noise_mv": 0.0} | changes)


def test_an_ideal_electrode_gives_zero_at_ph_7_and_a_nernst_slope_below():
    probe = quiet()
    probe.advance(1000.0, 7.0, 25.0)
    assert probe.mv(0.0) == pytest.approx(0.0, abs=1e-9)
    probe.advance(1000.0, 4.0, 25.0)
    assert probe.mv(0.0) == pytest.approx(3.0 * 59.159, abs=0.01)


def test_offset_and_slope_show_as_the_maker_defines_them():
    probe = quiet(offset_mv=5.0, slope_share=0.95)
    probe.advance(1000.0, 4.0, 25.0)
    assert probe.mv(0.0) == pytest.approx(5.0 + 0.95 * 3.0 * 59.159, abs=0.01)


def test_an_electrode_lags_by_its_time_constant():
    probe = quiet(lag_s=8.0)
    probe.advance(8.0, 4.0, 25.0)
    assert probe.mv(0.0) == pytest.approx((1.0 - math.exp(-1.0)) * 3.0 * 59.159, abs=0.01)


def test_following_in_one_step_or_ten_ends_alike():
    once, often = quiet(), quiet()
    once.advance(10.0, 5.0, 20.0)
    for _ in range(10):
        often.advance(1.0, 5.0, 20.0)
    assert once.mv(0.0) == pytest.approx(often.mv(0.0), abs=1e-9)


def test_running_motors_bias_the_reading():
    probe = quiet(stray_mv=1.5)
    probe.advance(1.0, 7.0, 20.0, motors_on=True)
    assert probe.mv(0.0) == pytest.approx(1.5)
    probe.advance(1.0, 7.0, 20.0)
    assert probe.mv(0.0) == pytest.approx(0.0)


def test_noise_depends_on_the_moment_and_not_on_how_often_it_is_read():
    busy, lazy = PhProbe(seed=3), PhProbe(seed=3)
    for tick in range(1000):
        busy.mv(tick * 0.05)
    assert busy.mv(50.0) == lazy.mv(50.0)
    assert busy.mv(50.0) != busy.mv(50.1)


def test_noise_is_the_same_within_a_tenth_of_a_second():
    assert gaussian_at(5, 12.30) == gaussian_at(5, 12.35)
    assert gaussian_at(5, 12.30) != gaussian_at(5, 12.45)


def test_noise_is_a_standard_normal_deviate():
    seed = seed_for(42, "anything")
    values = [gaussian(seed, index) for index in range(20_000)]
    mean = sum(values) / len(values)
    variance = sum((value - mean) ** 2 for value in values) / len(values)
    beyond_two = sum(abs(value) > 2.0 for value in values) / len(values)
    assert mean == pytest.approx(0.0, abs=0.03)
    assert variance == pytest.approx(1.0, abs=0.03)
    assert beyond_two == pytest.approx(0.0455, abs=0.006)


def test_neighbouring_moments_and_seeds_are_not_alike():
    values = [gaussian(9, index) for index in range(5000)]
    assert abs(sum(a * b for a, b in pairwise(values)) / 5000) < 0.05
    others = [gaussian(10, index) for index in range(5000)]
    assert abs(sum(a * b for a, b in zip(values, others, strict=True)) / 5000) < 0.05


def test_a_level_sensor_is_rougher_while_the_water_moves():
    sensor = LevelSensor(seed=1)

    def spread(moving):
        readings = [sensor.read_mm(tick * 0.1, 500.0, moving) for tick in range(600)]
        return max(readings) - min(readings)

    assert spread(True) > 2.0 * spread(False)
    assert 480.0 < sensor.read_mm(3.0, 500.0, True) < 520.0


def test_conductivity_is_referred_to_25_degrees():
    # 0.01 mol/kg KCl: 1273.03 uS/cm at 20 deg C and 1408.23 at 25 deg C (NIST); 2 %/K leaves 0.5 %.
    reading = ConductivityProbe(noise_share=0.0).read_us_cm(0.0, 1273.03, 20.0)
    assert reading == pytest.approx(1408.23, rel=0.006)


def test_a_thermometer_follows_and_keeps_its_offset():
    thermometer = Thermometer("tank", 10.0, offset_c=0.2, noise_c=0.0, lag_s=15.0)
    thermometer.advance(15.0, 20.0)
    assert thermometer.read_c(0.0) == pytest.approx(10.2 + 10.0 * (1.0 - math.exp(-1.0)))


def test_the_supply_delivers_its_flow_after_filling_its_pipe():
    supply = Supply(12.0, 400.0)
    total_ml = sum(supply.advance(0.5, valve_open=True) for _ in range(1200))
    assert total_ml == pytest.approx(120_000.0 - 400.0, rel=0.03)
    assert supply.delivered_ml - total_ml == pytest.approx(400.0)


def test_a_closed_valve_lets_no_more_run_out_than_the_pipe_held():
    supply = Supply(12.0, 400.0)
    supply.advance(60.0, valve_open=True)
    run_out_ml = sum(supply.advance(0.5, valve_open=False) for _ in range(200))
    assert run_out_ml == pytest.approx(400.0, rel=1e-6)
    assert supply.advance(60.0, valve_open=False) < 1e-6


def test_a_lost_supply_delivers_nothing():
    supply = Supply(12.0, 0.0)
    supply.pressure = 0.0
    assert supply.advance(60.0, valve_open=True) == 0.0


def test_the_flow_meter_gives_whole_pulses():
    meter = FlowMeter(450.0)
    for _ in range(1000):
        meter.passed(1.0)
    assert meter.pulses == 450
    meter.passed(1.0)
    assert meter.pulses == 450
