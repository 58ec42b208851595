"""Scales, ticks and thinning: ticks are round and inside, and no peak is ever thinned away."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.record.axis import Scale, round_ticks, thin, time_ticks
from controller.record.page import text
from controller.record.words import duration, millilitres, percent, signed


@given(st.floats(-1e3, 1e3), st.floats(0.01, 1e3))
def test_ticks_are_inside_evenly_spaced_few_and_round(low, span):
    ticks = round_ticks(low, low + span)
    assert 1 <= len(ticks) <= 6
    assert all(low - 1e-6 * span <= tick <= low + span + 1e-6 * span for tick in ticks)
    steps = [later - earlier for earlier, later in pairwise(ticks)]
    assert all(f"{step:.0e}"[0] in "125" and step == pytest.approx(steps[0]) for step in steps)


@given(
    st.integers(0, 86_399),
    st.floats(60, 4 * 86_400),
    st.integers(-12, 14),
)
def test_time_ticks_fall_on_full_minutes_of_the_local_clock(second, span_s, hours):
    start = datetime(2026, 3, 14, tzinfo=timezone(timedelta(hours=hours))) + timedelta(seconds=second)
    ticks = time_ticks(start, 0.0, span_s)
    assert len(ticks) <= 6
    for at_s, label in ticks:
        moment = start + timedelta(seconds=at_s)
        assert moment.second == 0
        assert moment.strftime("%H:%M") == label
        assert 0 <= at_s <= span_s


def test_an_hour_from_half_past_two_is_marked_each_quarter():
    start = datetime(2026, 3, 14, 2, 30, tzinfo=UTC)
    assert [label for _, label in time_ticks(start, 0.0, 3600.0)] == [
        "02:30",
        "02:45",
        "03:00",
        "03:15",
        "03:30",
    ]


@given(
    st.lists(st.tuples(st.floats(0, 1000), st.floats(-10, 10)), min_size=1, max_size=400), st.integers(2, 20)
)
def test_thinning_keeps_ends_peaks_and_order(points, columns):
    points = sorted(points)
    kept = thin(points, columns)
    assert len(kept) <= max(len(points) if len(points) <= 4 * columns else 0, 4 * (columns + 1))
    assert kept[0][0] == points[0][0]
    assert kept[-1] == points[-1]
    assert min(value for _, value in kept) == min(value for _, value in points)
    assert max(value for _, value in kept) == max(value for _, value in points)
    assert [at_s for at_s, _ in kept] == sorted(at_s for at_s, _ in kept)


def test_a_scale_keeps_what_is_outside_on_its_edge():
    scale = Scale(0.0, 10.0, 100.0, 0.0)
    assert [scale.at(value) for value in (-5.0, 0.0, 2.5, 10.0, 99.0)] == [100.0, 100.0, 75.0, 0.0, 0.0]


@pytest.mark.parametrize(
    ("said", "words"),
    [
        (millilitres(9.994), "9.99 mL"),
        (millilitres(355.94), "355.9 mL"),
        (millilitres(2460.4), "2460 mL"),
        (signed(millilitres(-0.4)), "−0.40 mL"),
        (signed(millilitres(12.0)), "+12.0 mL"),
        (signed(millilitres(-0.001)), "0.00 mL"),
        (percent(-0.0166), "−1.7 %"),
        (percent(0.2), "+20.0 %"),
        (percent(0.0001), "0.0 %"),
        (percent(None), "–"),
        (duration(5.25), "5.2 s"),
        (duration(59.6), "1 min 00 s"),
        (duration(3725), "1 h 02 min"),
        (duration(None), "did not end"),
        (duration(0), "0 s"),
        (
            text("a\x00b\x1bc\ud800d\u200fe µ°é漢\U0001f331"),
            "a\ufffdb\ufffdc\ufffdd\u200fe µ°é漢\U0001f331",
        ),
    ],
)
def test_numbers_are_written_with_their_units(said, words):
    assert said == words
