import pytest
from desk import STIRRING, Desk, dosing, filling
from hypothesis import given
from hypothesis import strategies as st

from firmware_bridge.firmware.limits import LONGEST_LEASE_MS
from firmware_bridge.firmware.ticks import TICKS_HALF, TICKS_PERIOD, elapsed_ms, ticks_diff

JUST_BEFORE_THE_WRAP_MS = TICKS_PERIOD - 700


@given(
    start=st.integers(0, TICKS_PERIOD - 1),
    gap=st.integers(-TICKS_HALF, TICKS_HALF - 1),
)
def test_a_difference_survives_the_wrap(start, gap):
    """MicroPython documentation, time.ticks_diff: signed difference in [-period/2, period/2 - 1]."""
    assert ticks_diff((start + gap) % TICKS_PERIOD, start) == gap


def test_a_gap_too_long_to_measure_counts_as_very_long():
    assert elapsed_ms(5, 10) == TICKS_HALF
    assert elapsed_ms(TICKS_HALF + 1, 0) == TICKS_HALF


@pytest.mark.parametrize("start_ms", [0, JUST_BEFORE_THE_WRAP_MS])
def test_the_lease_lasts_as_long_across_the_wrap(start_ms):
    desk = Desk(now_ms=start_ms)
    desk.link.write(STIRRING)
    desk.run(LONGEST_LEASE_MS - 10)
    assert desk.hal.enable
    desk.run(10)
    assert not desk.hal.enable


def test_an_opening_ends_in_time_across_the_wrap():
    desk = Desk(now_ms=JUST_BEFORE_THE_WRAP_MS)
    desk.run_talking(950, filling(max_ms=1000))
    assert desk.hal.valve
    desk.run_talking(50, filling(max_ms=1000))
    assert not desk.hal.valve


def test_a_dose_and_the_uptime_go_on_across_the_wrap():
    desk = Desk(now_ms=JUST_BEFORE_THE_WRAP_MS)
    desk.run_talking(2000, dosing(target=150, rate=100))
    image = desk.image()
    assert image.motion.count_done == 150
    assert image.uptime_ms == 2000


def test_a_clock_that_jumps_back_ends_everything_that_is_timed():
    desk = Desk(now_ms=50_000)
    desk.link.write(filling())
    desk.now_ms = 40_000
    desk.node.poll(desk.now_ms)
    assert desk.all_off


def test_an_uptime_of_more_than_forty_nine_days_begins_again_and_is_still_told():
    """The register holds 32 bits of ms: 49.7 days."""
    desk = Desk()
    desk.node.uptime._high = 0xFFFF
    desk.run(70_000)
    assert desk.image().uptime_ms == (0xFFFF << 16) + 70_000 - (1 << 32)
