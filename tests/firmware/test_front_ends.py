from fractions import Fraction
from math import floor

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from firmware_bridge.firmware.front_ends import FrontEnds
from firmware_bridge.registers import NO_READING

ENDS = {
    "ph_zero_mv": 1500,
    "ph_gain_milli": 3000,
    "conductivity_zero_mv": 0,
    "conductivity_full_mv": 3000,
    "conductivity_full_us_cm": 6000,
    "level_zero_mv": 500,
    "level_full_mv": 3000,
    "level_full_decimm": 9000,
    "second_ph": 0,
}


def ends(**changes) -> FrontEnds:
    return FrontEnds(**{**ENDS, **changes})


def half_up(value: Fraction) -> int:
    return floor(value + Fraction(1, 2))


@pytest.mark.parametrize(
    ("adc_decimv", "decimv"),
    [(15_000, 0), (20_313, 1771), (9_687, -1771), (15_001, 0), (15_002, 1), (14_998, -1)],
)
def test_the_electrode_voltage_is_taken_back_through_zero_and_gain(adc_decimv, decimv):
    assert ends().ph_decimv(adc_decimv) == decimv


@pytest.mark.parametrize("adc_decimv", [-1, 0, 199, 32_801, 33_000])
def test_an_electrode_module_at_a_rail_gives_no_reading(adc_decimv):
    assert ends(ph_gain_milli=50_000).ph_decimv(adc_decimv) == NO_READING


def test_a_voltage_that_no_electrode_gives_is_no_reading():
    """Nernst: 7 pH x 59.16 mV at 25 °C is 414 mV, with 497 mV at 85 °C; 600 mV is none."""
    assert ends(ph_gain_milli=1000).ph_decimv(15_000 + 4970) == 4970
    assert ends(ph_gain_milli=1000).ph_decimv(15_000 - 4970) == -4970
    assert ends(ph_gain_milli=1000).ph_decimv(15_000 + 6001) == NO_READING
    assert ends(ph_gain_milli=1000).ph_decimv(15_000 - 6001) == NO_READING


@pytest.mark.parametrize(
    ("adc_decimv", "decimm"),
    [(5000, 0), (17_500, 4500), (30_000, 9000), (4990, 0), (4500, 0), (4499, NO_READING), (0, NO_READING)],
)
def test_a_level_a_little_below_zero_is_nothing_and_well_below_is_a_cut_wire(adc_decimv, decimm):
    assert ends().level_decimm(adc_decimv) == decimm


@pytest.mark.parametrize(
    ("adc_decimv", "decimm"), [(30_500, 9180), (30_501, NO_READING), (33_000, NO_READING)]
)
def test_a_level_past_the_top_of_its_range_is_no_reading(adc_decimv, decimm):
    assert ends().level_decimm(adc_decimv) == decimm


@pytest.mark.parametrize(
    ("adc_decimv", "us_cm"), [(0, 0), (6200, 1240), (30_000, 6000), (30_601, NO_READING), (-1, NO_READING)]
)
def test_conductivity_follows_its_span(adc_decimv, us_cm):
    assert ends().conductivity_us_cm(adc_decimv) == us_cm


def test_a_span_that_ends_at_the_top_rail_gives_no_reading_there():
    """There an open input cannot be told from a full one."""
    assert ends(conductivity_full_mv=3300).conductivity_us_cm(32_801) == NO_READING


@given(
    zero=st.integers(0, 3300),
    full=st.integers(0, 3300),
    top=st.integers(1, 32_000),
    adc=st.integers(0, 33_000),
)
def test_every_level_is_the_straight_line_rounded_half_up_in_small_integers(zero, full, top, adc):
    assume(full - zero >= 100)
    found = ends(level_zero_mv=zero, level_full_mv=full, level_full_decimm=top)
    assert found.sound()
    above = adc - 10 * zero
    assert max(above, 0) * top + 5 * (full - zero) < 1 << 30
    value = found.level_decimm(adc)
    if value != NO_READING:
        assert value == max(0, half_up(Fraction(above * top, 10 * (full - zero))))
        assert 0 <= value < 1 << 15


@given(zero=st.integers(0, 3300), gain=st.integers(100, 50_000), adc=st.integers(0, 33_000))
def test_every_electrode_voltage_is_the_straight_line_rounded_half_up(zero, gain, adc):
    value = ends(ph_zero_mv=zero, ph_gain_milli=gain).ph_decimv(adc)
    if value != NO_READING:
        assert value == half_up(Fraction((adc - 10 * zero) * 1000, gain))


@pytest.mark.parametrize(
    "change",
    [
        {"ph_zero_mv": -1},
        {"ph_zero_mv": 3301},
        {"ph_gain_milli": 99},
        {"ph_gain_milli": 50_001},
        {"conductivity_zero_mv": -1},
        {"conductivity_full_mv": 3301},
        {"conductivity_full_mv": 99},
        {"conductivity_full_us_cm": 0},
        {"conductivity_full_us_cm": 32_001},
        {"level_zero_mv": 2901},
        {"level_full_decimm": 0},
        {"second_ph": 2},
    ],
)
def test_unsound_front_ends_are_told_and_have_no_checksum(change):
    assert ends().sound()
    assert not ends(**change).sound()
    assert ends(**change).checksum() == 0


def test_every_number_changes_the_checksum():
    changed = [ends(**{name: value + 1}).checksum() for name, value in ENDS.items()]
    assert len({ends().checksum(), 0, *changed}) == len(ENDS) + 2
