"""A pH electrode that ails: filmed, dried out, broken, wet at the plug, open, or out of the water."""

import dataclasses
import math

import pytest
from ideal_probe import FEED_US_CM, at_rest, ideal

from sim.sensing.disturbance import Disturbance
from sim.sensing.probe import PhProbe, nernst_mv_per_ph
from sim.sensing.probe_condition import (
    BROKEN_GLASS,
    DRIED,
    FILMED,
    FLOATING_INPUT,
    GROUND_LOOP,
    HEALTHY,
    OPEN_INPUT,
    POISONED_REFERENCE,
    WET_PLUG,
)
from sim.true_instruments import TrueProbe

HOUR_S = 3600.0


def test_a_condition_is_frozen():
    with pytest.raises(dataclasses.FrozenInstanceError):
        FILMED.lag_factor = 1.0


def test_a_film_slows_the_electrode_and_takes_a_little_slope():
    filmed = ideal(lag_s=8.0)
    filmed.condition = FILMED
    filmed.advance(8.0 * FILMED.lag_factor, 4.0, 25.0, FEED_US_CM)
    assert (filmed.glass_ph - 4.0) / 3.0 == pytest.approx(math.exp(-1.0), rel=1e-6)
    assert at_rest(filmed, 4.0) == pytest.approx(3.0 * 59.159 * FILMED.slope_factor, abs=0.003)


def test_a_film_can_be_cleaned_off():
    probe = ideal()
    probe.condition = FILMED
    probe.condition = HEALTHY
    assert at_rest(probe, 4.0) == pytest.approx(3.0 * 59.159, abs=0.003)


def test_a_dried_glass_recovers_in_water_and_not_in_air():
    probe = ideal()
    at_rest(probe, 7.0)
    probe.condition = DRIED
    assert probe.mv(0.0) == pytest.approx(DRIED.offset_mv)
    probe.advance(20 * HOUR_S, 7.0, 25.0, wet=False)
    probe.advance(0.0, 7.0, 25.0, FEED_US_CM)
    assert probe.mv(0.0) == pytest.approx(DRIED.offset_mv)
    probe.advance(DRIED.recovery_s, 7.0, 25.0, FEED_US_CM)
    assert probe.mv(0.0) == pytest.approx(DRIED.offset_mv / math.e)


def test_recovery_and_response_add_up_the_same_in_steps_of_any_length():
    once, often = ideal(), ideal()
    for probe, steps in ((once, 1), (often, 5000)):
        probe.condition = DRIED
        for _ in range(steps):
            probe.advance(50.0 / steps, 4.0, 25.0, 300.0)
    assert once.mv(0.0) == pytest.approx(often.mv(0.0), abs=1e-9)


def test_the_response_of_a_recovering_glass_is_the_integral_of_its_growing_speed():
    # dy/dt = (4 - y) / (lag (1 + 4 e^(-t/r))), by small steps of the midpoint rule.
    probe = ideal(lag_s=8.0)
    probe.condition = DRIED
    seconds, step_s = 60.0, 0.01
    turned = sum(
        step_s / (8.0 * (1.0 + 4.0 * math.exp(-(index + 0.5) * step_s / DRIED.recovery_s)))
        for index in range(round(seconds / step_s))
    )
    probe.advance(seconds, 4.0, 25.0, FEED_US_CM)
    assert (probe.glass_ph - 4.0) / 3.0 == pytest.approx(math.exp(-turned), rel=1e-6)


def test_a_dried_glass_is_noisier():
    def spread(condition):
        probe = ideal(noise_mv=0.2)
        at_rest(probe, 7.0)
        probe.condition = condition
        readings = [probe.mv(tick * 0.1) for tick in range(2000)]
        mean = sum(readings) / 2000
        return math.sqrt(sum((mv - mean) ** 2 for mv in readings) / 2000)

    assert spread(DRIED) == pytest.approx(DRIED.noise_factor * spread(HEALTHY), rel=1e-6)


@pytest.mark.parametrize("ph", [2.0, 4.0, 9.0, 12.0])
def test_a_broken_glass_stays_near_zero_whatever_the_ph(ph):
    probe = PhProbe(TrueProbe(offset_mv=12.0))
    probe.condition = BROKEN_GLASS
    probe.advance(10_000.0, ph, 25.0, 1500.0)
    assert all(abs(probe.mv(now * 7.0)) < 1.0 for now in range(500))


def test_a_wet_plug_divides_the_voltage():
    probe = ideal(offset_mv=4.0)
    probe.condition = WET_PLUG
    assert at_rest(probe, 4.0) == pytest.approx(0.5 * (4.0 + 3.0 * 59.159), abs=0.003)


def test_a_poisoned_reference_jumps_and_then_goes_on_drifting():
    probe = ideal()
    at_rest(probe, 7.0)
    probe.condition = POISONED_REFERENCE
    assert probe.mv(0.0) == pytest.approx(POISONED_REFERENCE.offset_mv)
    probe.advance(2 * HOUR_S, 7.0, 25.0, FEED_US_CM)
    assert probe.mv(0.0) == pytest.approx(POISONED_REFERENCE.offset_mv + 2 * POISONED_REFERENCE.drift_mv_h)


def test_a_ground_loop_shows_only_while_something_runs():
    probe = ideal(stray_mv=1.5)
    at_rest(probe, 7.0)
    probe.condition = GROUND_LOOP
    assert probe.mv(0.0) == pytest.approx(0.0, abs=1e-9)
    probe.near = Disturbance(stir=True)
    assert probe.mv(0.0) == pytest.approx(1.5 * GROUND_LOOP.stray_factor)


def test_an_open_input_drifts_to_the_rail_and_hums():
    probe = ideal()
    at_rest(probe, 6.0)
    probe.condition = OPEN_INPUT
    assert abs(probe.mv(0.0)) < 300.0
    probe.advance(10.0 * OPEN_INPUT.floats_tau_s, 6.0, 25.0)
    readings = [probe.mv(tick * 0.1) for tick in range(600)]
    assert min(readings) > 1000.0
    assert max(readings) - min(readings) > OPEN_INPUT.hum_mv


def test_a_floating_input_wanders_through_readings_that_look_like_ph():
    probe = ideal()
    probe.condition = FLOATING_INPUT
    probe.advance(100.0, 6.0, 25.0)
    readings = [probe.mv(tick * 1.0) for tick in range(1000)]
    within = sum(abs(mv) < 7.0 * nernst_mv_per_ph(25.0) for mv in readings)
    assert within > 950
    assert max(readings) - min(readings) > 200.0


def test_a_floating_input_does_not_feel_the_water():
    one, other = ideal(), ideal()
    for probe, ph in ((one, 4.0), (other, 9.0)):
        probe.condition = FLOATING_INPUT
        probe.advance(100.0, ph, 25.0)
    assert one.mv(5.0) == other.mv(5.0)


def test_out_of_the_water_it_keeps_its_film_and_then_goes_astray():
    probe = ideal(stray_mv=1.5)
    wet_mv = at_rest(probe, 5.0)
    probe.near = Disturbance(stir=True)
    probe.advance(0.0, 7.0, 25.0, wet=False)
    assert probe.mv(0.0) == pytest.approx(wet_mv)
    probe.advance(1800.0, 7.0, 25.0, wet=False)
    readings = [probe.mv(1800.0 + now) - wet_mv for now in range(0, 4000, 10)]
    assert max(readings) > 10.0
    assert min(readings) < -10.0
    assert abs(sum(readings) / len(readings)) < 10.0
    probe.near = Disturbance()
    probe.advance(1.0, 5.0, 25.0, FEED_US_CM)
    assert probe.mv(9000.0) == pytest.approx(wet_mv, abs=1e-6)
    probe.advance(0.0, 7.0, 25.0, wet=False)
    assert probe.mv(9000.0) == pytest.approx(wet_mv, abs=1e-6)


def test_in_air_one_step_and_many_end_alike():
    once, often = ideal(), ideal()
    once.advance(90.0, 7.0, 15.0, wet=False)
    for _ in range(90):
        often.advance(1.0, 7.0, 15.0, wet=False)
    assert once.mv(77.0) == pytest.approx(often.mv(77.0), abs=1e-9)
