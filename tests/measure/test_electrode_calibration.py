"""Calibration in buffers: against a sum by hand and a general regression, and every slip by its name."""

from __future__ import annotations

import math
import random
from collections.abc import Sequence
from datetime import date
from statistics import pstdev

import pytest
from scipy.optimize import curve_fit

from controller.measure.buffers import Buffer, Series, buffer_named
from controller.measure.electrode import mv_from_ph, nernst_slope_mv
from controller.measure.electrode_calibration import ElectrodeCalibration, Verdict, as_probe, judge
from controller.measure.electrode_fit import (
    BufferReading,
    fit_line,
    isopotential_ph,
    isopotential_uncertainty,
)
from controller.settings.values import PhProbe

BEFORE = PhProbe(
    offset_mv=4.0, slope_share=0.98, isopotential_ph=7.0, calibrated=date(2025, 3, 1), due_days=30
)
P4, P7, P10 = (buffer_named(label, Series.TECHNICAL) for label in ("4.00", "7.00", "10.01"))
PHOSPHATE = buffer_named("6.865", Series.PRIMARY)
PHTHALATE = buffer_named("4.005", Series.PRIMARY)


def probe(offset_mv: float = 4.0, slope_share: float = 0.98) -> PhProbe:
    return PhProbe(offset_mv, slope_share, 7.0, date(2025, 3, 1), 30)


def read(
    true: PhProbe,
    *labels: Buffer,
    truly: dict[Buffer, Buffer] | None = None,
    c: float = 22.0,
    t95_s: float | None = 20.0,
) -> list[BufferReading]:
    """What a true electrode gives in each bottle; `truly` says which liquid is really in a bottle."""
    return [
        BufferReading(label, mv_from_ph((truly or {}).get(label, label).ph_at(c), c, true), c, t95_s=t95_s)
        for label in labels
    ]


def judged(readings: Sequence[BufferReading]) -> ElectrodeCalibration:
    return judge(readings, BEFORE)


def test_two_points_by_hand() -> None:
    # At 25 °C: pH 7.00 gives -5.0 mV, pH 4.01 gives 166.9 mV. The ideal slope is 59.159 mV (CODATA 2018), so
    # slope = 171.9 / 2.99 = 57.492 mV, share = 57.492 / 59.159 = 0.97182; offset = -5.0 mV at pH 7.
    found = judged([BufferReading(P4, 166.9, 25.0), BufferReading(P7, -5.0, 25.0)])
    assert found.line is not None
    assert found.line.slope_share == pytest.approx(0.97182, abs=2e-5)
    assert found.line.offset_mv == pytest.approx(-5.0, abs=1e-9)
    assert (found.verdict, found.passed, found.said) == (Verdict.GOOD, True, ())
    assert found.line.left_ph == pytest.approx((0.0, 0.0), abs=1e-9)


def test_three_points_are_those_of_a_general_weighted_regression() -> None:
    chance = random.Random(2)
    readings = [
        BufferReading(one.buffer, one.mv + chance.gauss(0.0, 0.8), one.temperature_c, 0.3)
        for one in read(probe(9.0, 0.965), P4, P7, P10, c=18.0)
    ]
    line = fit_line(readings, 7.0)
    k = nernst_slope_mv(18.0)
    sigma = [math.hypot(k * one.buffer.doubt_ph, one.doubt_mv) for one in readings]
    x = [-k * (one.ph - 7.0) for one in readings]
    best, spread = curve_fit(
        lambda x, a, b: a + b * x, x, [one.mv for one in readings], sigma=sigma, absolute_sigma=True
    )
    assert (line.offset_mv, line.slope_share) == pytest.approx(tuple(best), rel=1e-6)
    assert line.offset_uncertainty_mv == pytest.approx(2 * math.sqrt(spread[0, 0]), rel=1e-6)
    assert line.slope_uncertainty == pytest.approx(2 * math.sqrt(spread[1, 1]), rel=1e-6)


def test_the_stated_uncertainty_covers_what_bottles_and_noise_really_do() -> None:
    chance, offsets, shares = random.Random(5), [], []
    for _ in range(2000):
        line = fit_line(
            [
                BufferReading(
                    b,
                    mv_from_ph(b.ph_at(25.0) + chance.gauss(0.0, b.doubt_ph), 25.0, BEFORE)
                    + chance.gauss(0.0, 0.3),
                    25.0,
                    0.3,
                )
                for b in (P4, P7)
            ],
            7.0,
        )
        offsets.append(line.offset_mv)
        shares.append(line.slope_share)
    assert line.offset_uncertainty_mv == pytest.approx(2 * pstdev(offsets), rel=0.06)
    assert line.slope_uncertainty == pytest.approx(2 * pstdev(shares), rel=0.06)


@pytest.mark.parametrize(
    ("true", "verdict", "passed", "words"),
    [
        (probe(0.0, 1.0), Verdict.GOOD, True, ""),
        (probe(29.5, 0.955), Verdict.GOOD, True, ""),
        (probe(0.0, 0.94), Verdict.CLEAN, True, "94.0 %"),
        (probe(0.0, 0.84), Verdict.REPLACE, False, "worn out"),
        (probe(0.0, 1.06), Verdict.REPEAT, False, "no electrode does that"),
        (probe(31.0, 0.98), Verdict.REFILL, False, "+31 mV at pH 7"),
        (probe(-31.0, 0.98), Verdict.REFILL, False, "-31 mV at pH 7"),
        (probe(-70.0, 0.98), Verdict.REPLACE, False, "-70 mV at pH 7"),
    ],
)
def test_each_limit_has_its_verdict(true: PhProbe, verdict: Verdict, passed: bool, words: str) -> None:
    for bottles in ((P7, P4), (P4, P7, P10)):
        found = judged(read(true, *bottles))
        assert (found.verdict, found.passed) == (verdict, passed)
        assert words in " ".join(found.said)
        assert found.remedy


@pytest.mark.parametrize(
    ("t95_s", "verdict", "passed"),
    [(59.0, Verdict.GOOD, True), (61.0, Verdict.CLEAN, True), (130.0, Verdict.CLEAN, False)],
)
def test_a_slow_electrode_is_named(t95_s: float, verdict: Verdict, passed: bool) -> None:
    found = judged(read(probe(), P4, P7, t95_s=t95_s))
    assert (found.verdict, found.passed) == (verdict, passed)
    assert ("95 % of a step" in " ".join(found.said)) == (verdict is Verdict.CLEAN)


def test_swapped_buffers_are_named() -> None:
    found = judged(read(probe(), P4, P7, truly={P4: P7, P7: P4}))
    assert (found.verdict, found.passed) == (Verdict.REPEAT, False)
    assert "swapped" in found.said[0]


@pytest.mark.parametrize(
    ("mv", "verdict", "words"),
    [
        (176.0, Verdict.REPEAT, "both read like 4.00: the same bottle twice"),
        (3.0, Verdict.REPEAT, "glass broken"),
        (90.0, Verdict.REPEAT, "still in its cap"),
    ],
)
def test_no_change_between_two_buffers_is_named_by_where_it_stands(
    mv: float, verdict: Verdict, words: str
) -> None:
    found = judged([BufferReading(P4, mv, 22.0), BufferReading(P7, mv - 1.5, 22.0)])
    assert (found.line, found.verdict, found.passed) == (None, verdict, False)
    assert words in found.said[0]


def test_the_same_label_twice_is_refused() -> None:
    assert "given twice" in judged(read(probe(), P4, P4)).said[0]


@pytest.mark.parametrize("bottles", [(P4, P7), (P4, P7, P10)])
def test_the_primary_bottle_in_the_place_of_the_technical_one_is_named(bottles: tuple[Buffer, ...]) -> None:
    found = judged(read(probe(5.0, 0.978), *bottles, truly={P7: PHOSPHATE}))
    assert (found.verdict, found.passed) == (Verdict.REPEAT, False)
    assert "fit the primary buffer 6.865 and not the technical 7.00" in found.said[0]
    assert "0.14 pH apart" in found.said[0] or "0.13 pH apart" in found.said[0]


def test_the_technical_bottle_in_the_place_of_the_primary_one_is_named() -> None:
    found = judged(read(probe(), PHTHALATE, PHOSPHATE, truly={PHOSPHATE: P7}))
    assert "fit the technical buffer 7.00 and not the primary 6.865" in found.said[0]
    assert not found.passed


@pytest.mark.parametrize("change", [(-6.0, 0.0), (6.0, 0.0), (0.0, -0.02), (-10.0, -0.015), (15.0, 0.01)])
def test_an_electrode_that_aged_since_is_not_taken_for_a_wrong_bottle(change: tuple[float, float]) -> None:
    for bottles in ((P4, P7), (P7, P10), (P4, P7, P10)):
        found = judged(read(probe(4.0 + change[0], 0.98 + change[1]), *bottles))
        assert found.passed, found.said


def test_a_diluted_third_buffer_is_named() -> None:
    readings = read(probe(), P4, P7, P10)
    spoilt = BufferReading(P10, readings[2].mv + 9.0, 22.0)
    found = judged([*readings[:2], spoilt])
    assert (found.verdict, found.passed) == (Verdict.REPEAT, False)
    assert "do not lie on one line" in found.said[0]


@pytest.mark.parametrize("pair", [(P4, P7), (P7, P10)])
def test_two_of_three_buffers_that_were_swapped_are_named(pair: tuple[Buffer, Buffer]) -> None:
    one, other = pair
    found = judged(read(probe(), P4, P7, P10, truly={one: other, other: one}))
    assert (found.verdict, found.passed) == (Verdict.REPEAT, False)
    assert f"buffers {one.label} and {other.label} were swapped" in found.said[0]


@pytest.mark.parametrize("place", [0, 1, 2])
@pytest.mark.parametrize("off_mv", [-30.0, -9.0, 9.0, 30.0])
def test_a_bottle_that_is_old_is_not_taken_for_a_swap(place: int, off_mv: float) -> None:
    readings = read(probe(), P4, P7, P10)
    readings[place] = BufferReading(readings[place].buffer, readings[place].mv + off_mv, 22.0)
    found = judged(readings)
    assert not found.passed
    assert "swapped" not in found.said[0]


def test_a_dead_signal_condemns_no_electrode_before_cap_plug_and_bottles_were_looked_at() -> None:
    found = judged([BufferReading(P4, 4.0, 25.0), BufferReading(P7, 3.0, 25.0)])
    assert (found.verdict, found.passed) == (Verdict.REPEAT, False)
    assert "take its cap off, dry its plug, use two bottles; if that fails replace it" in found.said[0]
    assert "replace the electrode" not in found.remedy


def test_the_doubt_of_the_isopotential_ph_covers_what_bottles_and_noise_really_do() -> None:
    chance, found = random.Random(7), []
    for _ in range(1500):
        off = {bottle: chance.gauss(0.0, bottle.doubt_ph) for bottle in (P4, P7)}
        readings = [
            BufferReading(
                b, mv_from_ph(b.ph_at(c) + off[b], c, probe(3.0, 0.97)) + chance.gauss(0.0, 0.2), c, 0.2
            )
            for c in (12.0, 32.0)
            for b in (P4, P7)
        ]
        ph = isopotential_ph(readings)
        assert ph is not None
        found.append(ph)
    assert isopotential_uncertainty(readings) == pytest.approx(2 * pstdev(found), rel=0.06)
    assert isopotential_uncertainty(readings[:2]) is None


def test_what_is_believed_afterwards_gives_the_buffers_their_ph_again() -> None:
    true = probe(-12.0, 0.961)
    believed = as_probe(judged(read(true, P4, P7, c=17.0)), BEFORE)
    assert (believed.offset_mv, believed.slope_share) == pytest.approx((-12.0, 0.961))
    assert believed.isopotential_ph == BEFORE.isopotential_ph


@pytest.mark.parametrize("true_ph", [5.5, 6.6, 7.0])
def test_the_isopotential_ph_is_found_from_two_temperatures(true_ph: float) -> None:
    true = PhProbe(3.0, 0.97, true_ph, date(2025, 3, 1), 30)
    warm_and_cold = [*read(true, P4, P7, c=12.0), *read(true, P4, P7, c=32.0)]
    assert isopotential_ph(warm_and_cold) == pytest.approx(true_ph, abs=1e-6)
    assert isopotential_ph(warm_and_cold[:2]) is None
    assert isopotential_ph([*read(true, P4, P7, c=20.0), *read(true, P4, P7, c=25.0)]) is None
    assert (
        isopotential_ph([*read(true, P4, c=12.0), *read(true, P4, c=22.0), *read(true, P4, c=32.0)]) is None
    )


def test_one_buffer_is_no_calibration() -> None:
    with pytest.raises(ValueError, match="two buffers"):
        judged(read(probe(), P4))
