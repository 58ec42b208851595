"""Conductivity cell against potassium chloride standards, and what is wrong with real cells."""

import math

import pytest

from sim.sensing.conductivity_cell import (
    BUBBLE_CAUGHT,
    CUT,
    FOULED,
    HEALTHY,
    SHORTED,
    ConductivityCell,
)
from sim.sensing.disturbance import Disturbance
from sim.true_instruments import TrueCell

IDEAL = {"cell_noise_share": 0.0, "polarised_at_us_cm": 1e15}


def reading(us_cm, celsius, now_s=0.0, condition=HEALTHY, near=None, **changes):
    cell = ConductivityCell(TrueCell(**(IDEAL | changes)))
    cell.condition = condition
    cell.near = near or Disturbance()
    cell.advance(100_000.0, us_cm, celsius)
    return cell.read_us_cm(now_s)


# KCl of 0.01 and 0.1 mol/kg: 1273.03 and 11615.9 uS/cm at 20 deg C, 1408.23 and 12824.6 at 25 deg C (CRC
# Handbook / NIST, Pratt 2001). Between the two it changes by 1.92 %/K; the front end takes 2 %/K.
@pytest.mark.parametrize(("at_20", "at_25"), [(1273.03, 1408.23), (11615.9, 12824.6)])
def test_a_standard_reads_its_value_at_25_degrees(at_20, at_25):
    assert reading(at_25, 25.0) == pytest.approx(at_25, rel=1e-9)
    assert reading(at_20, 20.0) == pytest.approx(at_25, rel=0.0075)
    assert reading(at_20, 20.0, per_k=0.0192) == pytest.approx(at_25, rel=0.002)
    assert reading(at_20, 20.0) == pytest.approx(at_20 / 0.9, rel=1e-9)


def test_the_error_of_the_cell_constant_shows_in_full():
    assert reading(1408.23, 25.0, cell_error=0.02) == pytest.approx(1.02 * 1408.23)


def test_polarisation_takes_from_high_conductivities_most():
    # In series with the water: half of the reading is lost where both resistances are alike.
    assert reading(50_000.0, 25.0, polarised_at_us_cm=50_000.0) == pytest.approx(25_000.0)
    lost_low = 1.0 - reading(1408.23, 25.0, polarised_at_us_cm=300_000.0) / 1408.23
    lost_high = 1.0 - reading(12824.6, 25.0, polarised_at_us_cm=300_000.0) / 12824.6
    assert 0.002 < lost_low < 0.006
    assert 0.03 < lost_high < 0.05


def test_its_own_thermometer_lags_and_the_reading_with_it():
    cell = ConductivityCell(TrueCell(**IDEAL, cell_lag_s=20.0))
    cell.advance(100_000.0, 1408.23, 25.0)
    cell.advance(20.0, 1273.03, 20.0)
    shown_c = 20.0 + 5.0 * math.exp(-1.0)
    assert cell.read_us_cm(0.0) == pytest.approx(1273.03 / (1.0 + 0.02 * (shown_c - 25.0)))


def test_its_own_thermometers_error_is_two_percent_a_kelvin():
    assert reading(1408.23, 25.0, cell_offset_c=1.0) == pytest.approx(1408.23 / 1.02)


def test_one_step_and_many_end_alike():
    once, often = ConductivityCell(TrueCell(), seed=1), ConductivityCell(TrueCell(), seed=1)
    once.advance(60.0, 900.0, 12.0)
    for _ in range(600):
        often.advance(0.1, 900.0, 12.0)
    assert once.read_us_cm(60.0) == pytest.approx(often.read_us_cm(60.0), rel=1e-12)


def test_a_dry_cell_reads_nothing():
    assert reading(0.0, 20.0, cell_noise_share=0.01) == 0.0


def test_bubbles_lower_the_reading_while_air_runs():
    # Maxwell's mixture: 3 % of gas leaves (1 - 0.03) / (1 + 0.015) = 95.6 %.
    still = reading(1000.0, 25.0)
    assert reading(1000.0, 25.0, near=Disturbance(air=True)) / still == pytest.approx(0.9557, abs=1e-4)
    assert reading(1000.0, 25.0, near=Disturbance(stir=True)) == still


def test_noise_depends_on_the_moment_only():
    first, again = (reading(1000.0, 25.0, 5.0, cell_noise_share=0.01) for _ in range(2))
    assert first == again
    many = [reading(1000.0, 25.0, tick * 0.1, cell_noise_share=0.01) for tick in range(500)]
    mean = sum(many) / 500
    assert mean == pytest.approx(1000.0, rel=0.002)
    assert math.sqrt(sum((value - mean) ** 2 for value in many) / 500) == pytest.approx(10.0, rel=0.15)


def test_each_condition_shows_its_own_way():
    assert reading(1000.0, 25.0, condition=FOULED) == pytest.approx(800.0)
    assert reading(1000.0, 25.0, condition=BUBBLE_CAUGHT) == pytest.approx(500.0)
    assert reading(1000.0, 25.0, condition=CUT) == 0.0
    assert reading(1000.0, 25.0, condition=SHORTED) == 100_000.0
