"""Conductivity: standards, the cell factor, compensation done once, and the scales that people read."""

from __future__ import annotations

import pytest

from controller.measure.conductivity import (
    CLEAN,
    GOOD,
    REPEAT,
    UNIT,
    Standard,
    StandardFault,
    StandardReading,
    as_ppm,
    judge_cell,
    shown_at_reference,
    standard_named,
    standard_us_cm,
)


@pytest.mark.parametrize(
    ("standard", "c", "us_cm"),
    [
        # CRC Handbook and NIST (Pratt 2001), transcription of the table.
        (Standard.MOLAL_001, 25.0, 1408.23),
        (Standard.MOLAL_001, 20.0, 1273.03),
        (Standard.MOLAL_01, 25.0, 12824.6),
        # ISO 7888 and OIML R 56, from memory: 141 and 1290 mS/m for 0.01 and 0.1 mol/L at 25 °C.
        (Standard.PRINTED_1413, 25.0, 1410.0),
        (Standard.PRINTED_12880, 25.0, 12900.0),
    ],
)
def test_standards_read_what_is_published(standard: Standard, c: float, us_cm: float) -> None:
    assert standard_us_cm(standard, c) == pytest.approx(us_cm, rel=0.003)


def test_the_molal_and_the_molar_bottle_are_different_bottles() -> None:
    assert standard_named("0.01") is Standard.MOLAL_001
    assert standard_named("1413") is Standard.PRINTED_1413
    assert standard_named("12.88") is Standard.PRINTED_12880
    share = standard_us_cm(Standard.PRINTED_1413, 25.0) / standard_us_cm(Standard.MOLAL_001, 25.0)
    assert 1.003 <= share <= 1.004
    with pytest.raises(StandardFault, match='use one of "0'):
        standard_named("1500")


def test_a_standard_outside_its_table_has_no_value() -> None:
    with pytest.raises(StandardFault, match="outside its table, 20 to 25 °C"):
        standard_us_cm(Standard.PRINTED_12880, 25.6)
    with pytest.raises(StandardFault, match="outside its table"):
        standard_us_cm(Standard.MOLAL_001, 14.4)
    assert standard_us_cm(Standard.PRINTED_12880, 25.4) == pytest.approx(
        12880.0 * (1.0 + 0.4 * 0.0188), rel=1e-4
    )


@pytest.mark.parametrize(("c", "per_k"), [(15.0, 0.0189), (20.0, 0.0192), (30.0, 0.0197)])
def test_potassium_chloride_itself_changes_by_not_quite_two_percent_a_kelvin(c: float, per_k: float) -> None:
    # From the published table: alpha = (k_t / k_25 - 1) / (t - 25).
    share = standard_us_cm(Standard.MOLAL_001, c) / standard_us_cm(Standard.MOLAL_001, 25.0)
    assert (share - 1.0) / (c - 25.0) == pytest.approx(per_k, abs=0.0001)


@pytest.mark.parametrize("c", [15.0, 18.0, 25.0, 30.0])
@pytest.mark.parametrize("true_factor", [0.9, 1.0, 1.1])
def test_the_factor_is_the_cells_alone_at_every_temperature(c: float, true_factor: float) -> None:
    # A front end with 2 %/K and a cell that shows 1 / factor of the truth.
    shown = standard_us_cm(Standard.MOLAL_001, c) / (1.0 + 0.02 * (c - 25.0)) / true_factor
    found = judge_cell([StandardReading(Standard.MOLAL_001, shown, c)])
    assert found.factor == pytest.approx(true_factor)
    assert (found.verdict, found.passed) == (GOOD, True)


def test_compensation_is_done_once() -> None:
    # At 15 °C a second compensation would add 1 / 0.8 = 25 % to 1000 µS/cm shown at 25 °C; nothing does it.
    assert shown_at_reference(800.0, 15.0) == pytest.approx(1000.0)
    assert as_ppm(1000.0, 500) == 500.0
    assert as_ppm(1000.0, 700) == 700.0
    with pytest.raises(ValueError, match="500 and a 700"):
        as_ppm(1000.0, 640)


@pytest.mark.parametrize(
    ("shown", "verdict", "passed", "words"),
    [
        (0.0, REPEAT, False, "shows nothing"),
        (12_880.0, REPEAT, False, "ten-fold bottle"),
        (141.0, REPEAT, False, "about 10 times too little: the ten-fold bottle"),
        (1413.0 / 2.4, REPEAT, False, "outside 0.5 to 2"),
        (1413.0 / 100.0, REPEAT, False, "outside 0.5 to 2"),
        (1413.0 / 1.26, CLEAN, True, "far from 1"),
        (1413.0 / 0.7, CLEAN, True, "far from 1"),
        # 1 mS/cm is 1000 µS/cm; 500 or 700 ppm on the scales of that name (trade convention).
        (0.5 * 1413.0, UNIT, False, "1413 is shown as 706.5, about 2 times too little: most likely"),
        (0.5 * 1413.0 / 0.95, UNIT, False, "ppm on the 500 scale and not µS/cm"),
        (
            0.7 * 1413.0,
            UNIT,
            False,
            "about 1.43 times too little: most likely the readings are ppm on the 700",
        ),
        (1.413, UNIT, False, "about 1000 times too little: most likely the readings are mS/cm"),
        (1_413_000.0, UNIT, False, "about 1000 times too much: most likely the readings are nS/cm"),
        (1413.0 / 1.05, GOOD, True, ""),
    ],
)
def test_each_verdict_of_a_cell(shown: float, verdict: str, passed: bool, words: str) -> None:
    found = judge_cell([StandardReading(Standard.PRINTED_1413, shown, 25.0, 1.0)])
    assert (found.verdict, found.passed) == (verdict, passed)
    assert words in " ".join(found.said)
    assert found.remedy


def test_two_standards_must_agree_and_their_mean_is_surer() -> None:
    one = StandardReading(Standard.PRINTED_1413, 1413.0, 25.0, 1.0)
    near = StandardReading(Standard.PRINTED_12880, 12880.0 / 1.01, 25.0, 10.0)
    far = StandardReading(Standard.PRINTED_12880, 12880.0 / 1.03, 25.0, 10.0)
    assert judge_cell([one, near]).factor == pytest.approx(1.005)
    assert judge_cell([one, near]).uncertainty < judge_cell([one]).uncertainty
    assert judge_cell([one]).uncertainty == pytest.approx(0.01, abs=0.001)
    assert not judge_cell([one, far]).passed
    with pytest.raises(ValueError, match="needs a standard"):
        judge_cell([])
