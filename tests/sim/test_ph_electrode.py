"""A sound pH electrode: Nernst, isopotential, response, drift, and what running motors and thin water do."""

import math

import pytest
from ideal_probe import FEED_US_CM, at_rest, ideal

from sim.sensing.disturbance import Disturbance
from sim.sensing.probe import PhProbe, nernst_mv_per_ph
from sim.true_instruments import TrueProbe


# R T ln 10 / F with CODATA 2018, mV per pH.
@pytest.mark.parametrize(
    ("celsius", "mv"),
    [
        (0, 54.199),
        (5, 55.191),
        (10, 56.183),
        (15, 57.175),
        (20, 58.167),
        (25, 59.159),
        (30, 60.152),
        (35, 61.144),
        (40, 62.136),
    ],
)
def test_the_slope_is_the_nernst_slope_at_the_glasss_own_temperature(celsius, mv):
    assert nernst_mv_per_ph(celsius) == pytest.approx(mv, abs=6e-4)
    probe = ideal()
    assert at_rest(probe, 6.0, celsius) - at_rest(probe, 7.0, celsius) == pytest.approx(mv, abs=6e-4)


def test_an_ideal_electrode_gives_zero_at_ph_7_at_any_temperature():
    assert at_rest(ideal(), 7.0, 10.0) == pytest.approx(0.0, abs=1e-9)
    assert at_rest(ideal(), 7.0, 35.0) == pytest.approx(0.0, abs=1e-9)


def test_offset_and_slope_show_as_a_two_point_calibration_finds_them():
    probe = ideal(offset_mv=5.0, slope_share=0.95)
    assert at_rest(probe, 7.0) == pytest.approx(5.0, abs=1e-9)
    assert at_rest(probe, 4.0) == pytest.approx(5.0 + 0.95 * 3.0 * 59.159, abs=0.003)


def test_without_compensation_the_error_is_that_of_the_slope_alone():
    # (pH - 7) x dT / T: 0.10 pH at pH 4 for 10 K, counted from 25 deg C.
    read_as_if_25 = 7.0 - at_rest(ideal(), 4.0, 35.0) / nernst_mv_per_ph(25.0)
    assert read_as_if_25 - 4.0 == pytest.approx(-3.0 * 10.0 / 298.15, abs=1e-6)


def test_at_the_real_isopotential_point_temperature_changes_nothing():
    probe = ideal(isopotential_ph=5.5, offset_mv=3.0)
    standing = at_rest(probe, 5.5, 10.0)
    assert at_rest(probe, 5.5, 35.0) == pytest.approx(standing, abs=1e-9)
    # The offset stays what a calibration at 25 deg C finds in the pH 7 buffer.
    assert at_rest(probe, 7.0, 25.0) == pytest.approx(3.0, abs=1e-9)


def test_an_electrode_reaches_95_percent_after_three_time_constants():
    probe = ideal(lag_s=8.0)
    for seconds, share in ((8.0, 1.0 - math.exp(-1.0)), (16.0, 1.0 - math.exp(-3.0))):
        probe.advance(seconds, 4.0, 25.0, FEED_US_CM)
        assert probe.glass_ph == pytest.approx(7.0 - 3.0 * share, rel=1e-6)
    # ln 20 = 3.0.
    other = ideal(lag_s=8.0)
    other.advance(8.0 * math.log(20.0), 4.0, 25.0, FEED_US_CM)
    assert (7.0 - other.glass_ph) / 3.0 == pytest.approx(0.95, abs=1e-6)


def test_the_last_of_a_change_comes_by_the_slow_time_constant():
    probe = ideal(lag_s=5.0, slow_lag_s=60.0, slow_share=0.1)
    probe.advance(60.0, 4.0, 25.0, FEED_US_CM)
    left = 0.9 * math.exp(-12.0) + 0.1 * math.exp(-1.0)
    assert (probe.glass_ph - 4.0) / 3.0 == pytest.approx(left, rel=1e-5)


def test_the_glass_takes_on_the_waters_warmth_by_its_own_lag():
    probe = ideal(glass_lag_s=30.0)
    probe.advance(100_000.0, 4.0, 10.0, FEED_US_CM)
    cold_mv = probe.mv(0.0)
    probe.advance(30.0, 4.0, 30.0, FEED_US_CM)
    warm_mv = 3.0 * nernst_mv_per_ph(30.0)
    assert (probe.mv(0.0) - cold_mv) / (warm_mv - cold_mv) == pytest.approx(1.0 - math.exp(-1.0), rel=1e-6)


def test_following_in_one_step_or_in_many_ends_alike():
    once, often = (PhProbe(TrueProbe(), seed=4) for _ in range(2))
    once.advance(60.0, 5.0, 12.0, 900.0)
    for _ in range(600):
        often.advance(0.1, 5.0, 12.0, 900.0)
    assert once.mv(60.0) == pytest.approx(often.mv(60.0), abs=1e-9)


def test_it_comes_to_rest_later_in_thin_water_than_in_a_feed():
    def left(us_cm):
        probe = ideal()
        probe.advance(16.0, 5.0, 25.0, us_cm)
        return (probe.glass_ph - 5.0) / 2.0

    assert left(FEED_US_CM) == pytest.approx(math.exp(-2.0), rel=1e-6)
    # At 100 uS/cm half of the dilute-water slowing is there: time runs 1 / 1.5 as fast.
    assert left(100.0) == pytest.approx(math.exp(-2.0 / 1.5), rel=1e-6)


def test_noise_depends_on_the_moment_and_not_on_how_often_it_is_read():
    busy, lazy = PhProbe(TrueProbe(), seed=3), PhProbe(TrueProbe(), seed=3)
    for tick in range(1000):
        busy.mv(tick * 0.05)
    assert busy.mv(50.0) == lazy.mv(50.0)
    assert busy.mv(50.0) != busy.mv(50.1)
    assert PhProbe(TrueProbe(), seed=9).mv(50.0) != lazy.mv(50.0)


def test_noise_is_as_wide_as_told():
    probe = ideal(noise_mv=0.3)
    at_rest(probe, 7.0)
    readings = [probe.mv(tick * 0.1) for tick in range(4000)]
    assert math.sqrt(sum(mv * mv for mv in readings) / 4000) == pytest.approx(0.3, rel=0.05)


def test_the_offset_drifts_by_the_hour_and_the_reference_wanders():
    drifting = ideal(drift_mv_h=0.5)
    at_rest(drifting, 7.0)
    assert drifting.mv(3600.0 * 6.0) - drifting.mv(0.0) == pytest.approx(3.0)
    wandering = ideal(reference_wander_mv=0.4, seed=2)
    at_rest(wandering, 7.0)
    hours = [wandering.mv(3600.0 * 2.0 * hour) for hour in range(400)]
    assert math.sqrt(sum(mv * mv for mv in hours) / 400) == pytest.approx(0.4, rel=0.15)
    # Over the minute in which a reading must be steady it hardly moves.
    assert max(abs(wandering.mv(t) - wandering.mv(t + 60.0)) for t in range(0, 50_000, 60)) < 0.03


@pytest.mark.parametrize(
    ("near", "stray"),
    [
        (Disturbance(), 0.0),
        (Disturbance(stir=True), 1.5),
        (Disturbance(air=True), 0.4),
        (Disturbance(motor=True), 0.8),
        (Disturbance(stir=True, motor=True), 2.3),
        (Disturbance(filling=True), 0.0),
    ],
)
def test_each_motor_that_runs_adds_its_own_stray_voltage(near, stray):
    probe = ideal(stray_mv=1.5, stray_air_mv=0.4, stray_motor_mv=0.8)
    at_rest(probe, 7.0)
    probe.near = near
    assert probe.mv(0.0) == pytest.approx(stray, abs=1e-9)


def test_water_that_moves_past_biases_more_the_less_it_conducts():
    probe = ideal(streaming_mv=1.5)

    def streaming(us_cm, near):
        probe.near = near
        return at_rest(probe, 7.0, 25.0, us_cm)

    assert streaming(200.0, Disturbance(stir=True)) == pytest.approx(0.75)
    assert streaming(2000.0, Disturbance(stir=True)) == pytest.approx(0.075)
    assert 0.0 < streaming(200.0, Disturbance(air=True)) < streaming(200.0, Disturbance(stir=True))
    assert 0.0 < streaming(200.0, Disturbance(filling=True)) < streaming(200.0, Disturbance(stir=True))
    assert streaming(200.0, Disturbance(motor=True)) == pytest.approx(0.0, abs=1e-9)


def test_the_junction_of_the_reference_shows_in_thin_water_only():
    probe = ideal(junction_mv=2.0)
    assert at_rest(probe, 7.0, 25.0, us_cm=100.0) == pytest.approx(1.0)
    assert abs(at_rest(probe, 7.0, 25.0, us_cm=2000.0)) < 0.1
