"""Millivolts and pH, and the plausibility of a probe."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.measure.electrode import (
    ProbeVerdict,
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


def test_a_signal_that_has_not_moved_at_all_for_a_quarter_of_an_hour_is_dead() -> None:
    live = probe_verdict(60.0, 20.0, IDEAL, moved_mv=30.0, same_s=899.0)
    dead = probe_verdict(60.0, 20.0, IDEAL, moved_mv=30.0, same_s=900.0)
    assert (live, dead) == (ProbeVerdict.GOOD, ProbeVerdict.DEAD)
    assert dead.usable
    assert not dead.proven


@given(probe=probes, ph=st.floats(2.01, 11.99), temperature_c=st.floats(0.0, 50.0))
def test_no_sound_probe_in_a_tank_is_ever_rejected(probe: PhProbe, ph: float, temperature_c: float) -> None:
    assert probe_verdict(mv_from_ph(ph, temperature_c, probe), temperature_c, probe).proven
