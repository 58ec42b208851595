"""Turning back at the pins: direction, pulses, and what is kept of a count that was cut short."""

import pytest
from bench import Bench
from fake_machine import put_in_place
from hypothesis import given, settings
from hypothesis import strategies as st

from firmware_bridge.firmware.limits import MOST_ANTI_DRIP, MOST_COUNTS
from firmware_bridge.firmware.pin_plan import DECODER_GATE, DIRECTION, PULSES_PER_COUNT, STEP
from firmware_bridge.firmware.pulse_programs import CYCLES_PER_PULSE

CYCLES_PER_COUNT = PULSES_PER_COUNT * CYCLES_PER_PULSE


def bench_with_board():
    with pytest.MonkeyPatch.context() as monkeypatch:
        bench = Bench()
        bench.hal = put_in_place(monkeypatch, bench)[0].BoardHal()
    return bench


def rotor(bench) -> int:
    """Give where the rotor stands, in pulses, from what the pins did; its driver must be enabled for each."""
    level = {DIRECTION: 0, DECODER_GATE: 1}
    pulses = 0
    for pin, driven in bench.history:
        if pin == DIRECTION:
            assert level[DECODER_GATE] == 1, "the direction changed while a driver was enabled"
        if pin == STEP and driven:
            assert level[DECODER_GATE] == 0
            pulses += -1 if level[DIRECTION] else 1
        level[pin] = driven
    return pulses


@pytest.mark.parametrize("count", [1, 2, MOST_ANTI_DRIP])
def test_a_motor_turns_back_by_exactly_its_counts_and_stops_by_itself(count):
    bench = bench_with_board()
    bench.hal.motor_back(3, count, 100)
    bench.run_cycles((count + 3) * CYCLES_PER_COUNT)
    assert bench.hal.motor_count() == count
    assert rotor(bench) == -count * PULSES_PER_COUNT


def test_the_next_motion_goes_forward_again():
    bench = bench_with_board()
    bench.hal.motor_back(3, 2, 100)
    bench.run_cycles(3 * CYCLES_PER_COUNT)
    bench.hal.motor_stop()
    bench.hal.motor_start(3, 2 + 4, 100)
    bench.run_cycles(8 * CYCLES_PER_COUNT)
    assert bench.hal.motor_count() == 6
    assert rotor(bench) == 4 * PULSES_PER_COUNT


MOTIONS = st.lists(
    st.tuples(st.booleans(), st.integers(1, 3), st.integers(0, 4 * CYCLES_PER_COUNT)), max_size=5
)


@settings(max_examples=40, deadline=None)
@given(motions=MOTIONS)
def test_whatever_is_cut_short_the_rotor_is_never_behind_what_was_told_nor_a_whole_count_ahead(motions):
    bench = bench_with_board()
    told = 0
    for backwards, count, cycles in motions:
        start = bench.hal.motor_back if backwards else bench.hal.motor_start
        start(1, count, 100)
        bench.run_cycles(cycles)
        bench.hal.motor_stop()
        turned = bench.hal.motor_count()
        assert 0 <= turned <= count
        told += -turned if backwards else turned
        assert 0 <= rotor(bench) - told * PULSES_PER_COUNT < PULSES_PER_COUNT


def test_the_longest_dose_with_the_longest_lead_stays_a_small_integer():
    assert (MOST_COUNTS + MOST_ANTI_DRIP) * PULSES_PER_COUNT < 1 << 30
