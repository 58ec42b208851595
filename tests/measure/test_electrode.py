"""Millivolts and pH, the plausibility of a probe, and a reading that comes to rest."""

from __future__ import annotations

import math
import random
from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.measure.electrode import (
    ProbeVerdict,
    Steadiness,
    is_stable,
    mv_from_ph,
    nernst_slope_mv,
    ph_from_mv,
    probe_verdict,
)
from controller.settings.values import PhProbe

IDEAL = PhProbe(offset_mv=0.0, slope_share=1.0, isopotential_ph=7.0, calibrated=date(2025, 3, 1), due_days=30)

probes = st.builds(
    PhProbe,
    offset_mv=st.floats(-30.0, 30.0),
    slope_share=st.floats(0.85, 1.05),
    isopotential_ph=st.floats(5.0, 7.5),
    calibrated=st.just(date(2025, 3, 1)),
    due_days=st.just(30),
)


@pytest.mark.parametrize(
    ("temperature_c", "slope_mv"),
    [
        (0, 54.199),
        (5, 55.191),
        (10, 56.183),
        (15, 57.175),
        (20, 58.167),
        (25, 59.159),
        (30, 60.151),
        (35, 61.144),
        (40, 62.136),
    ],
)
def test_the_nernst_slope_is_that_of_the_codata_2018_constants(temperature_c: float, slope_mv: float) -> None:
    # R T ln 10 / F with R = 8.314462618 J/(mol K) and F = 96485.33212 C/mol (CODATA 2018).
    assert nernst_slope_mv(temperature_c) == pytest.approx(slope_mv, abs=0.0005)


def test_an_ideal_electrode_reads_177_mv_at_ph_4() -> None:
    # Three slopes of 59.159 mV at 25 °C; positive on the acid side by the usual convention of pH meters.
    assert mv_from_ph(4.0, 25.0, IDEAL) == pytest.approx(177.478, abs=0.002)


@given(probe=probes, ph=st.floats(0.0, 14.0), temperature_c=st.floats(0.0, 50.0))
def test_ph_survives_the_way_to_millivolts_and_back(probe: PhProbe, ph: float, temperature_c: float) -> None:
    assert ph_from_mv(mv_from_ph(ph, temperature_c, probe), temperature_c, probe) == pytest.approx(
        ph, abs=1e-9
    )


@given(probe=probes, cold_c=st.floats(0.0, 50.0), warm_c=st.floats(0.0, 50.0))
def test_at_the_isopotential_point_temperature_changes_nothing(
    probe: PhProbe, cold_c: float, warm_c: float
) -> None:
    # Definition of the isopotential point: the pH at which the signal does not depend on temperature.
    at_rest_mv = mv_from_ph(probe.isopotential_ph, cold_c, probe)
    assert at_rest_mv == mv_from_ph(probe.isopotential_ph, warm_c, probe) == probe.offset_mv


def test_a_temperature_wrong_by_ten_kelvin_costs_a_tenth_at_ph_4() -> None:
    # (pH - 7) x error / T = 3 x 10 / 298.15 = 0.10, from the Nernst slope alone.
    read_ph = ph_from_mv(mv_from_ph(4.0, 25.0, IDEAL), 15.0, IDEAL)
    assert abs(read_ph - 4.0) == pytest.approx(0.10, abs=0.005)


def test_an_isopotential_point_wrong_by_one_costs_0_0035_per_kelvin() -> None:
    # Analyst 112 (1987) 581, abstract: each pH unit of error costs about 0.0035 pH/K. The probe is calibrated
    # on one signal at 25 °C and read at 15 °C, once with the true and once with a wrong isopotential point.
    true = replace(IDEAL, isopotential_ph=6.0, offset_mv=mv_from_ph(6.0, 25.0, IDEAL))
    assert ph_from_mv(100.0, 25.0, true) == pytest.approx(ph_from_mv(100.0, 25.0, IDEAL))
    cost_ph_k = abs(ph_from_mv(100.0, 15.0, true) - ph_from_mv(100.0, 15.0, IDEAL)) / 10.0
    assert cost_ph_k == pytest.approx(0.0035, abs=0.0002)


@pytest.mark.parametrize(
    ("mv", "temperature_c", "verdict"),
    [
        (60.0, 20.0, ProbeVerdict.GOOD),
        (None, 20.0, ProbeVerdict.NO_SIGNAL),
        (math.nan, 20.0, ProbeVerdict.NO_SIGNAL),
        (1200.0, 20.0, ProbeVerdict.OPEN_INPUT),
        (-1200.0, 20.0, ProbeVerdict.OPEN_INPUT),
        (60.0, None, ProbeVerdict.TEMPERATURE_OUT_OF_RANGE),
        (60.0, -5.0, ProbeVerdict.TEMPERATURE_OUT_OF_RANGE),
        (60.0, math.nan, ProbeVerdict.TEMPERATURE_OUT_OF_RANGE),
        (400.0, 20.0, ProbeVerdict.OUT_OF_RANGE),
        (-400.0, 20.0, ProbeVerdict.OUT_OF_RANGE),
    ],
)
def test_each_implausible_signal_has_its_verdict(
    mv: float | None, temperature_c: float | None, verdict: ProbeVerdict
) -> None:
    assert probe_verdict(mv, temperature_c, IDEAL) is verdict
    assert verdict.usable is (verdict is ProbeVerdict.GOOD)


def test_a_signal_that_rests_at_zero_is_suspect_until_it_has_been_seen_to_move() -> None:
    # A cracked glass reads zero in any liquid (common practice, no source).
    resting = probe_verdict(0.3, 20.0, IDEAL, moved_mv=0.2)
    assert resting is ProbeVerdict.NEAR_ZERO_GLASS_SUSPECT
    assert resting.usable
    assert not resting.proven
    assert probe_verdict(0.3, 20.0, IDEAL, moved_mv=30.0).proven
    assert probe_verdict(60.0, 20.0, IDEAL, moved_mv=0.2).proven


@given(probe=probes, ph=st.floats(2.01, 11.99), temperature_c=st.floats(0.0, 50.0))
def test_no_sound_probe_in_a_tank_is_ever_rejected(probe: PhProbe, ph: float, temperature_c: float) -> None:
    assert probe_verdict(mv_from_ph(ph, temperature_c, probe), temperature_c, probe).proven


def readings(seconds: int, ph_at, noise_ph: float = 0.0, seed: int = 1) -> list[tuple[float, float]]:
    rng = random.Random(seed)
    return [(float(t), ph_at(t) + rng.gauss(0.0, noise_ph)) for t in range(seconds + 1)]


def test_a_flat_reading_with_the_noise_of_a_good_probe_is_at_rest() -> None:
    assert is_stable(readings(60, lambda t: 6.4, noise_ph=0.01), 60.0, 0.02)


def test_a_creeping_reading_is_not_at_rest_though_no_two_neighbours_differ_much() -> None:
    creeping = readings(60, lambda t: 6.4 - 0.0005 * t)
    assert not is_stable(creeping, 60.0, 0.02)
    assert is_stable(creeping, 60.0, 0.04)


def test_one_outlier_does_not_unsettle_a_long_window_but_restlessness_does() -> None:
    outlier = readings(60, lambda t: 6.43 if t == 30 else 6.4)
    assert is_stable(outlier, 60.0, 0.02)
    restless = readings(60, lambda t: 6.4 + (0.03 if t % 2 else -0.03))
    assert not is_stable(restless, 60.0, 0.02)


def test_a_window_that_is_not_covered_proves_nothing() -> None:
    assert not is_stable([], 60.0, 0.02)
    assert not is_stable(readings(59, lambda t: 6.4), 60.0, 0.02)
    assert not is_stable([(0.0, 6.4), (60.0, 6.4)], 60.0, 0.02)
    gap = [(t, ph) for t, ph in readings(60, lambda t: 6.4) if not 20 < t < 45]
    assert not is_stable(gap, 60.0, 0.02)


def test_only_the_latest_window_counts() -> None:
    stepped = readings(200, lambda t: 7.4 if t < 100 else 6.4)
    assert is_stable(stepped, 60.0, 0.02)
    assert not is_stable(stepped[:140], 60.0, 0.02)


def test_samples_that_run_backwards_are_refused() -> None:
    window = Steadiness(10.0, 0.02)
    window.add(5.0, 6.4)
    with pytest.raises(ValueError, match="backwards"):
        window.add(4.0, 6.4)
    with pytest.raises(ValueError, match="finite"):
        window.add(6.0, math.nan)
    with pytest.raises(ValueError, match="backwards"):
        is_stable([(0.0, 6.4), (9.0, 6.4), (8.5, 6.4), (10.0, 6.4)], 9.0, 0.02)


def test_a_lagging_probe_is_accepted_only_when_it_has_arrived() -> None:
    # First order, time constant 20 s, from pH 7.5 to 6.0: the error at acceptance stays near the limit set.
    window = Steadiness(60.0, 0.02)
    for second in range(600):
        window.add(float(second), 6.0 + 1.5 * math.exp(-second / 20.0))
        if window.is_stable():
            break
    ph = window.steady_ph()
    assert ph is not None
    assert 60 < second < 240
    assert ph == pytest.approx(6.0, abs=0.02)


def test_the_window_stays_small_and_forgets_when_told() -> None:
    window = Steadiness(60.0, 0.02)
    for second in range(5000):
        window.add(float(second), 6.4)
    assert len(window) <= 62
    assert window.steady_ph() == pytest.approx(6.4)
    window.clear()
    assert window.steady_ph() is None


@given(st.lists(st.floats(0.01, 8.0), min_size=5, max_size=120), st.integers(0, 10**6))
def test_the_window_and_the_plain_function_agree(gaps_s: list[float], seed: int) -> None:
    rng = random.Random(seed)
    window = Steadiness(20.0, 0.02)
    samples = []
    time_s = 0.0
    for gap_s in gaps_s:
        time_s += gap_s
        samples.append((time_s, 6.4 + rng.gauss(0.0, 0.012)))
        window.add(*samples[-1])
        assert window.is_stable() == is_stable(samples, 20.0, 0.02)
