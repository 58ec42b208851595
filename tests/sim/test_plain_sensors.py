"""Thermometers, flow meter and scales on their own: closed forms, and what goes wrong with each."""

import math

import pytest

from sim.sensing import flow_meter, scale, thermometer
from sim.sensing.flow_meter import FlowMeter
from sim.sensing.scale import Scale
from sim.sensing.thermometer import Thermometer
from sim.true_instruments import TrueFlowMeter, TrueScales

CALM = {
    "span_error": 0.0,
    "scale_noise_g": 0.0,
    "vibration_g": 0.0,
    "creep_share": 0.0,
    "drift_g_k": 0.0,
}


def test_a_thermometer_follows_and_keeps_its_offset():
    tank = Thermometer("tank", 10.0, offset_c=0.2, noise_c=0.0, lag_s=15.0)
    tank.advance(15.0, 20.0)
    assert tank.read_c(0.0) == pytest.approx(10.2 + 10.0 * (1.0 - math.exp(-1.0)))
    tank.advance(15.0 * (math.log(20.0) - 1.0), 20.0)
    assert tank.read_c(0.0) == pytest.approx(10.2 + 9.5)


def test_a_thermometer_in_one_step_or_many_ends_alike():
    once, often = Thermometer("tank", 10.0, seed=2), Thermometer("tank", 10.0, seed=2)
    once.advance(20.0, 20.0)
    for _ in range(200):
        often.advance(0.1, 20.0)
    assert once.read_c(3.0) == pytest.approx(often.read_c(3.0), abs=1e-12)


def test_two_thermometers_do_not_share_their_noise():
    tank, supply = Thermometer("tank", 10.0, seed=2), Thermometer("supply", 10.0, seed=2)
    assert tank.read_c(3.0) != supply.read_c(3.0)
    assert tank.read_c(3.0) == Thermometer("tank", 10.0, seed=2).read_c(3.0)


def test_a_thermometer_fails_in_its_ways():
    tank = Thermometer("tank", 18.0, noise_c=0.0)
    tank.condition = thermometer.POWER_UP
    assert tank.read_c(0.0) == 85.0
    tank.condition = thermometer.CUT
    assert tank.read_c(0.0) is None
    tank.condition = thermometer.ASTRAY
    assert tank.read_c(0.0) == pytest.approx(18.0 + thermometer.ASTRAY.offset_c)
    tank.condition = thermometer.HEALTHY
    assert tank.read_c(0.0) == pytest.approx(18.0)


def meter(**changes):
    return FlowMeter(450.0, 0.0, TrueFlowMeter(**changes))


def test_the_flow_meter_gives_whole_pulses():
    counted = meter()
    for _ in range(1000):
        counted.passed(1.0, 0.005)
    assert counted.pulses == 450
    counted.passed(1.0, 0.005)
    assert counted.pulses == 450
    counted.passed(2.0, 0.01)
    assert counted.pulses == 451


def test_the_flow_meters_error_shows_in_full():
    off = FlowMeter(450.0, 0.02, TrueFlowMeter())
    off.passed(10_000.0, 60.0)
    assert off.pulses == round(4500 * 1.02)


def test_a_trickle_passes_the_rotor_by_however_it_is_cut_up():
    trickle, flow = meter(least_l_min=0.6), meter(least_l_min=0.6)
    for _ in range(600):
        trickle.passed(0.59 / 60.0 * 100.0, 0.1)
        flow.passed(0.61 / 60.0 * 100.0, 0.1)
    assert trickle.pulses == 0
    assert flow.pulses == pytest.approx(0.61 * 450, abs=1)


def test_nothing_passed_gives_no_pulse():
    still = meter(least_l_min=0.0)
    still.passed(0.0, 10.0)
    assert still.pulses == 0


@pytest.mark.parametrize(
    ("condition", "share"),
    [
        (flow_meter.HEALTHY, 1.0),
        (flow_meter.STUCK, 0.0),
        (flow_meter.FlowMeterCondition("slow", counts_share=0.9), 0.9),
    ],
)
def test_a_flow_meter_fails_in_its_ways_from_then_on(condition, share):
    failing = meter()
    failing.passed(10_000.0, 60.0)
    failing.condition = condition
    failing.passed(10_000.0, 60.0)
    assert failing.pulses == round(4500 * (1.0 + share))


def calm(start_g=5600.0, **changes):
    return Scale("kelp", TrueScales(**(CALM | changes)), start_g, seed=3)


def test_a_scale_reads_what_stands_on_it():
    kelp = calm()
    assert kelp.read_g(0.0) == pytest.approx(5600.0)
    kelp.advance(10.0, 4800.0, 20.0)
    assert kelp.read_g(10.0) == pytest.approx(4800.0)


def test_span_and_warmth_put_it_off():
    kelp = calm(span_error=0.001, drift_g_k=0.5)
    kelp.advance(10.0, 5600.0, 26.0)
    assert kelp.read_g(0.0) == pytest.approx(5600.0 * 1.001 + 3.0)


def test_a_share_of_a_change_comes_late():
    kelp = calm(creep_share=0.001, creep_minutes=10.0)
    kelp.advance(0.0, 1600.0, 20.0)
    assert kelp.read_g(0.0) == pytest.approx(1600.0 + 4.0)
    kelp.advance(600.0, 1600.0, 20.0)
    assert kelp.read_g(0.0) == pytest.approx(1600.0 + 4.0 / math.e)


def test_creep_in_one_step_or_many_ends_alike():
    once, often = calm(creep_share=0.001), calm(creep_share=0.001)
    once.advance(300.0, 1600.0, 20.0)
    for _ in range(300):
        often.advance(1.0, 1600.0, 20.0)
    assert once.read_g(1.0) == pytest.approx(often.read_g(1.0), abs=1e-9)


def test_what_runs_shakes_it():
    def spread(shaken):
        kelp = calm(scale_noise_g=0.5, vibration_g=10.0)
        kelp.advance(1.0, 5600.0, 20.0, shaken)
        readings = [kelp.read_g(tick * 0.1) for tick in range(2000)]
        return math.sqrt(sum((grams - 5600.0) ** 2 for grams in readings) / 2000)

    assert spread(False) == pytest.approx(0.5, rel=0.08)
    assert spread(True) == pytest.approx(10.5, rel=0.08)


def test_a_scale_fails_in_its_ways():
    kelp = calm()
    kelp.condition = scale.LEANED_ON
    leaning = [kelp.read_g(tick * 1.0) for tick in range(200)]
    assert 5600.0 < min(leaning) < max(leaning) < 5600.0 + 3.0 * scale.LEANED_ON.leaning_g
    assert sum(leaning) / 200 == pytest.approx(5600.0 + scale.LEANED_ON.leaning_g, rel=0.05)
    kelp.condition = scale.SHIFTED
    assert kelp.read_g(0.0) == pytest.approx(5600.0 + scale.SHIFTED.zero_g)
    kelp.condition = scale.JAMMED
    assert kelp.read_g(0.0) == pytest.approx(5600.0)
    kelp.advance(1.0, 5500.0, 20.0)
    assert kelp.read_g(0.0) == pytest.approx(5600.0 - 100.0 * scale.JAMMED.passes_share)
    kelp.condition = scale.HEALTHY
    assert kelp.read_g(0.0) == pytest.approx(5500.0)
    kelp.condition = scale.CUT
    assert kelp.read_g(0.0) is None
