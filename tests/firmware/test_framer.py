"""Frame ends by silence: Modbus Serial Line V1.02 §2.5.1.1, 3.5 characters of 11 bits, then 1750 µs."""

from fractions import Fraction
from itertools import pairwise
from math import ceil

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware_bridge.firmware.framer import Framer, silence_us
from firmware_bridge.firmware.ticks import TICKS_PERIOD

QUIET_US = 1750
FRAME = bytes.fromhex("11 03 00 6B 00 03 76 87")


@pytest.mark.parametrize("baud", [1200, 2400, 4800, 9600, 19200])
def test_up_to_19200_baud_the_silence_is_three_and_a_half_characters(baud):
    assert silence_us(baud) == ceil(Fraction(7, 2) * 11 * 1_000_000 / baud)


@pytest.mark.parametrize("baud", [19201, 38400, 57600, 115200])
def test_above_19200_baud_the_silence_is_fixed(baud):
    assert silence_us(baud) == 1750


def test_a_frame_ends_when_the_line_has_been_silent_long_enough_and_is_given_once():
    framer = Framer(QUIET_US)
    framer.put(FRAME, len(FRAME), 1000)
    assert framer.take(1000) == b""
    assert framer.take(1000 + QUIET_US - 1) == b""
    assert framer.take(1000 + QUIET_US) == FRAME
    assert framer.take(1000 + 2 * QUIET_US) == b""


def test_a_look_just_before_the_last_byte_does_not_end_the_frame():
    framer = Framer(QUIET_US)
    framer.put(FRAME, len(FRAME), 1000)
    assert framer.take(990) == b""


@given(
    cuts=st.lists(st.integers(1, len(FRAME) - 1), unique=True),
    start=st.integers(0, TICKS_PERIOD - 1),
    gap=st.integers(0, QUIET_US - 1),
)
def test_a_frame_in_any_number_of_pieces_is_one_frame_even_across_the_wrap(cuts, start, gap):
    framer = Framer(QUIET_US)
    edges = [0, *sorted(cuts), len(FRAME)]
    now = start
    for first, last in pairwise(edges):
        now = (now + gap) % TICKS_PERIOD
        assert framer.take(now) == b""
        framer.put(FRAME[first:last], last - first, now)
    assert framer.take((now + QUIET_US) % TICKS_PERIOD) == FRAME


def test_a_round_longer_than_the_silence_does_not_cut_a_frame_whose_bytes_came_without_a_gap():
    framer = Framer(QUIET_US)
    framer.put(FRAME[:5], 5, 0)
    framer.put(FRAME[5:], 3, 20_000)
    assert framer.take(20_000 + QUIET_US) == FRAME


def test_silence_parts_what_does_not_belong_together():
    framer = Framer(QUIET_US)
    framer.put(b"\xff\x00", 2, 0)
    assert framer.take(QUIET_US) == b"\xff\x00"
    framer.put(FRAME, len(FRAME), QUIET_US + 10)
    assert framer.take(2 * QUIET_US + 10) == FRAME


def test_only_the_bytes_that_arrived_are_taken_from_the_buffer():
    framer = Framer(QUIET_US)
    framer.put(FRAME + b"old bytes", len(FRAME), 0)
    framer.put(b"", 0, 900)
    assert framer.take(QUIET_US) == FRAME


@pytest.mark.parametrize(("size", "given_back"), [(256, 256), (257, 0), (600, 0)])
def test_a_frame_longer_than_256_bytes_is_swallowed_whole(size, given_back):
    """Serial Line V1.02 §2.5.1: an RTU frame has at most 256 bytes."""
    framer = Framer(QUIET_US)
    data = bytes(range(256)) * 3
    for first in range(0, size, 50):
        piece = data[first : min(first + 50, size)]
        framer.put(piece, len(piece), 0)
    assert framer.take(QUIET_US) == data[:given_back]
    framer.put(FRAME, len(FRAME), 5000)
    assert framer.take(5000 + QUIET_US) == FRAME


@pytest.mark.parametrize("idle_us", [0, QUIET_US, TICKS_PERIOD // 2, TICKS_PERIOD - 1, 3 * TICKS_PERIOD + 7])
def test_a_line_may_be_idle_for_any_time_before_a_frame(idle_us):
    framer = Framer(QUIET_US)
    framer.put(FRAME, len(FRAME), 0)
    assert framer.take(QUIET_US) == FRAME
    now = (QUIET_US + idle_us) % TICKS_PERIOD
    assert framer.take(now) == b""
    framer.put(FRAME, len(FRAME), now)
    assert framer.take(now) == b""
    assert framer.take((now + QUIET_US) % TICKS_PERIOD) == FRAME
