"""Buffers: their tables against published ones, what lies between, and bottles that must not be mixed up."""

from __future__ import annotations

import pytest

from controller.measure.buffers import (
    PRIMARY,
    TABLE_C,
    TECHNICAL,
    BufferFault,
    Series,
    buffer_named,
    counterpart,
)

# JIS Z 8802, two decimals, 10 to 35 °C (transcription on an instrument maker's page).
JIS = {
    "4.005": (4.00, 4.00, 4.00, 4.01, 4.01, 4.02),
    "6.865": (6.92, 6.90, 6.88, 6.86, 6.85, 6.84),
    "9.180": (9.33, 9.27, 9.22, 9.18, 9.14, 9.10),
    "10.012": (10.18, 10.12, 10.07, 10.02, 9.97, 9.93),
}


@pytest.mark.parametrize("label", JIS)
def test_primary_buffers_agree_with_the_japanese_standard_within_a_hundredth(label: str) -> None:
    buffer = buffer_named(label, Series.PRIMARY)
    for temperature_c, ph in zip(TABLE_C, JIS[label], strict=True):
        assert buffer.ph_at(temperature_c) == pytest.approx(ph, abs=0.0101)


def test_phthalate_follows_the_fit_of_the_bureau_of_standards() -> None:
    # Hetzer, Robinson & Durst 1977, J. Res. NBS 81A, abstract; the tables differ by up to 0.003.
    buffer = buffer_named("4.005", Series.PRIMARY)
    for temperature_c in TABLE_C:
        kelvin = temperature_c + 273.15
        ph = 2073.44 / kelvin - 13.3270 + 0.045199 * kelvin - 3.4846e-5 * kelvin**2
        assert buffer.ph_at(temperature_c) == pytest.approx(ph, abs=0.004)


def test_between_two_temperatures_of_the_table_it_is_a_straight_line() -> None:
    assert buffer_named("7.00", Series.TECHNICAL).ph_at(12.5) == pytest.approx(7.05)
    assert buffer_named("borax", Series.PRIMARY).ph_at(21.0) == pytest.approx(9.216)


@pytest.mark.parametrize("temperature_c", [9.9, 35.1, -3.0])
def test_outside_the_table_no_buffer_has_a_value(temperature_c: float) -> None:
    for buffer in (*PRIMARY, *TECHNICAL):
        with pytest.raises(BufferFault, match="outside its table, 10 to 35 °C"):
            buffer.ph_at(temperature_c)


@pytest.mark.parametrize(
    ("label", "series", "words"),
    [
        ("7.00", Series.PRIMARY, '"7.00" is a technical buffer'),
        ("6.86", Series.TECHNICAL, '"6.86" is a primary buffer'),
        ("6.865", Series.TECHNICAL, "another liquid"),
        ("9.18", Series.TECHNICAL, "--buffers primary"),
        ("5.00", Series.TECHNICAL, "use one of 4.00, 7.00, 10.01"),
        ("seven", Series.PRIMARY, "is no primary buffer"),
        ("nan", Series.PRIMARY, "is no primary buffer"),
    ],
)
def test_a_bottle_of_the_other_series_is_never_taken_for_one_of_this(
    label: str, series: Series, words: str
) -> None:
    with pytest.raises(BufferFault, match=words):
        buffer_named(label, series)


def test_bottles_are_found_by_what_is_printed_on_them() -> None:
    for label, name in (("4.01", "4.00"), ("7", "7.00"), (" 10.00 ", "10.01")):
        assert buffer_named(label, Series.TECHNICAL).label == name
    for label, name in (("phthalate", "4.005"), ("4.01", "4.005"), ("6.86", "6.865"), ("10.01", "10.012")):
        assert buffer_named(label, Series.PRIMARY).label == name


def test_only_the_neutral_bottles_have_a_double_in_the_other_series() -> None:
    doubles = {buffer.label: counterpart(buffer) for buffer in (*PRIMARY, *TECHNICAL)}
    taken_for = {label: other.label for label, other in doubles.items() if other is not None}
    assert taken_for == {"6.865": "7.00", "7.00": "6.865"}
