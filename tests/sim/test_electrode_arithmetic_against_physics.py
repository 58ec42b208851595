"""The controller's electrode arithmetic on voltages of the simulated electrode, calibrated in two buffers.

The two share no formula. Buffers: primary pH(S) at 25 deg C of IUPAC 2002 (Pure Appl. Chem. 74, 2169), from
memory: phthalate 4.005, phosphate 6.865.
"""

from datetime import date

import pytest
from ideal_probe import at_rest, ideal

from controller.measure.electrode import nernst_slope_mv, ph_from_mv
from controller.settings.values import PhProbe as Calibrated

LOW_PH, HIGH_PH = 4.005, 6.865
TRUE_PHS = (4.0, 5.5, 5.8, 6.3, 7.5, 9.0)


def two_point_calibrated(probe, celsius=25.0):
    """Find offset and slope share from both buffers, as a person does with a meter."""
    low_mv, high_mv = at_rest(probe, LOW_PH, celsius), at_rest(probe, HIGH_PH, celsius)
    slope_mv = (low_mv - high_mv) / (HIGH_PH - LOW_PH)
    offset_mv = high_mv - slope_mv * (7.0 - HIGH_PH)
    return Calibrated(offset_mv, slope_mv / nernst_slope_mv(celsius), 7.0, date(2026, 11, 20), 30)


@pytest.mark.parametrize("celsius", [10.0, 15.0, 20.0, 25.0, 30.0, 35.0])
def test_a_calibrated_electrode_of_isopotential_7_tells_the_true_ph(celsius):
    probe = ideal(offset_mv=-11.0, slope_share=0.96)
    calibrated = two_point_calibrated(probe)
    for ph in TRUE_PHS:
        told = ph_from_mv(at_rest(probe, ph, celsius), celsius, calibrated)
        assert told == pytest.approx(ph, abs=1e-6)


@pytest.mark.parametrize("celsius", [10.0, 20.0, 35.0])
def test_a_sound_electrode_with_all_its_noise_and_drift_stays_within_two_hundredths(celsius):
    steady = {"offset_mv": 5.0, "slope_share": 0.97}
    calibrated = two_point_calibrated(ideal(**steady))
    ordinary = {"noise_mv": 0.15, "drift_mv_h": 0.03, "reference_wander_mv": 0.2, "junction_mv": 1.0}
    probe = ideal(**steady, **ordinary, slow_share=0.04, seed=6)
    probe.advance(600.0, 6.0, celsius, 1700.0)
    night = [probe.mv(600.0 * tick + 0.1 * look) for tick in range(60) for look in range(5)]
    told = [ph_from_mv(mv, celsius, calibrated) for mv in night]
    assert max(abs(ph - 6.0) for ph in told) < 0.02


@pytest.mark.parametrize("isopotential_ph", [5.0, 6.0, 8.0])
def test_another_isopotential_errs_by_what_was_published(isopotential_ph):
    # About 0.0035 pH per kelvin and pH unit between the real and the assumed point: Analyst 112 (1987) 581,
    # abstract; 1 / 298 K = 0.00335 follows from Nernst near 25 deg C.
    probe = ideal(isopotential_ph=isopotential_ph)
    calibrated = two_point_calibrated(probe)
    off_ph = 7.0 - isopotential_ph
    for celsius in (15.0, 20.0, 30.0, 35.0):
        for ph in (5.0, 6.0):
            told = ph_from_mv(at_rest(probe, ph, celsius), celsius, calibrated)
            per_k = (told - ph) / (celsius - 25.0) / off_ph
            assert per_k == pytest.approx(0.0035, abs=0.0003)


def test_a_temperature_off_by_ten_kelvin_costs_a_tenth_at_ph_4():
    probe = ideal()
    calibrated = two_point_calibrated(probe)
    told = ph_from_mv(at_rest(probe, 4.0, 25.0), 35.0, calibrated)
    assert told - 4.0 == pytest.approx(3.0 * 10.0 / 308.15, abs=1e-3)
