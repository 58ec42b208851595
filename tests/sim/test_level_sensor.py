"""Level sensor: errors of a sound one, foam, the last of the water, an echo in cold air, faults."""

import math

import pytest

from sim.sensing.disturbance import Disturbance
from sim.sensing.level_sensor import CLOGGED, CONDENSATION, HEALTHY, SHIFTED, STUCK, LevelSensor
from sim.true_instruments import TrueLevel

STILL = {"level_noise_mm": 0.0, "slosh_mm": 0.0, "foam_share": 0.0, "dead_mm": 0.0}


def seeing(level_mm, foam_mm=0.0, condition=HEALTHY, near=None, **changes):
    sensor = LevelSensor(TrueLevel(**(STILL | changes)), seed=1)
    sensor.condition = condition
    sensor.near = near or Disturbance()
    sensor.sees(level_mm, foam_mm)
    return sensor


def test_offset_and_scale_show_in_full():
    assert seeing(500.0, level_offset_mm=3.0, level_scale=1.02).read_mm(0.0) == pytest.approx(513.0)


def test_it_never_reads_below_nothing():
    assert seeing(1.0, level_offset_mm=-5.0).read_mm(0.0) == 0.0


@pytest.mark.parametrize(
    "near", [Disturbance(stir=True), Disturbance(air=True), Disturbance(filling=True)], ids=str
)
def test_it_is_rougher_while_the_water_moves(near):
    def spread(near):
        sensor = seeing(500.0, near=near, level_noise_mm=0.3, slosh_mm=2.0)
        readings = [sensor.read_mm(tick * 0.1) for tick in range(3000)]
        assert sum(readings) / 3000 == pytest.approx(500.0, abs=0.1)
        return math.sqrt(sum((mm - 500.0) ** 2 for mm in readings) / 3000)

    assert spread(Disturbance()) == pytest.approx(0.3, rel=0.1)
    # A sine and a deviate of 1 mm each, and the noise: sqrt(1/2 + 1 + 0.09).
    assert spread(near) == pytest.approx(1.26, rel=0.1)


def test_a_dosing_motor_makes_no_waves():
    sensor = seeing(500.0, near=Disturbance(motor=True), slosh_mm=2.0)
    assert sensor.read_mm(0.3) == 500.0


@pytest.mark.parametrize(("share", "reading"), [(0.0, 400.0), (0.3, 424.0), (1.0, 480.0)])
def test_foam_is_seen_through_in_part_or_taken_for_water(share, reading):
    assert seeing(400.0, foam_mm=80.0, foam_share=share).read_mm(0.0) == pytest.approx(reading)


def test_the_last_of_the_water_is_not_seen():
    assert seeing(4.9, dead_mm=5.0).read_mm(0.0) == 0.0
    assert seeing(5.1, dead_mm=5.0).read_mm(0.0) == pytest.approx(5.1)


def test_an_echo_in_air_of_another_temperature_errs_with_the_distance():
    # The speed of sound goes with the square root of the absolute temperature: 10 K of error at 20 deg C are
    # 1.69 % of the distance, here 500 mm.
    sensor = seeing(400.0, mount_mm=900.0, air_error_c=10.0)
    assert 400.0 - sensor.read_mm(0.0) == pytest.approx(500.0 * (math.sqrt(303.15 / 293.15) - 1.0))
    assert 400.0 - sensor.read_mm(0.0) == pytest.approx(8.45, abs=0.01)
    assert seeing(400.0, mount_mm=900.0).read_mm(0.0) == pytest.approx(400.0)


def test_a_stuck_sensor_keeps_what_it_saw_last_however_often_one_looks():
    sensor = seeing(400.0, level_noise_mm=0.3)
    sensor.condition = STUCK
    sensor.sees(550.0)
    assert {sensor.read_mm(now) for now in (0.0, 1.0, 7.7)} == {400.0}
    sensor.condition = HEALTHY
    assert sensor.read_mm(8.0) == pytest.approx(550.0, abs=2.0)


def test_condensation_shows_as_spikes_for_its_share_of_the_time():
    sensor = seeing(400.0, condition=CONDENSATION)
    readings = [sensor.read_mm(tick * 0.1) for tick in range(5000)]
    spikes = [mm for mm in readings if mm > 600.0]
    assert len(spikes) / 5000 == pytest.approx(CONDENSATION.spike_share, abs=0.02)
    assert {mm for mm in readings if mm <= 600.0} == {400.0}
    again = seeing(400.0, condition=CONDENSATION)
    assert [again.read_mm(tick * 0.1) for tick in range(4999, -1, -1)] == readings[::-1]


def test_other_conditions_shift_and_flatten():
    assert seeing(400.0, condition=SHIFTED).read_mm(0.0) == pytest.approx(400.0 + SHIFTED.offset_mm)
    assert seeing(400.0, condition=CLOGGED).read_mm(0.0) == pytest.approx(400.0 * CLOGGED.scale)
