import pytest

from firmware_bridge.firmware.load_cells import LoadCells, grams
from firmware_bridge.firmware.pin_plan import SCALE_COUNTS_PER_G
from firmware_bridge.firmware.ticks import TICKS_PERIOD
from firmware_bridge.registers import NO_READING

EVERY_MS = 100


class Converter:
    """One converter as its kind's data sheets say (from memory): low when ready, 24 bits, a 25th pulse."""

    def __init__(self, raw):
        self.raw = raw & 0xFFFFFF
        self.ready_ms = EVERY_MS
        self.pulses = 0
        self.shorted = False
        self.from_ms = 0

    def value(self):
        if self.shorted:
            return 0
        if self.now_ms < self.from_ms:
            return 1
        if 1 <= self.pulses <= 24:
            return self.raw >> (24 - self.pulses) & 1
        return 0 if self.pulses == 0 and self.now_ms >= self.ready_ms else 1

    def clock(self):
        if self.now_ms < self.from_ms:
            return
        self.pulses += 1
        if self.pulses == 25:
            self.ready_ms = self.now_ms + EVERY_MS
            self.pulses = 0


class Absent:
    def value(self):
        return 1


class Bottles:
    def __init__(self, *converters, start_ms=0):
        self.converters = [one for one in converters if isinstance(one, Converter)]
        self.now_ms = start_ms
        self.start_ms = start_ms
        self.cells = LoadCells(self.clock, list(converters))

    def clock(self):
        for one in self.converters:
            one.clock()

    def run(self, ms):
        for _ in range(ms // 10):
            self.now_ms += 10
            for one in self.converters:
                one.now_ms = self.now_ms - self.start_ms
            self.cells.attend(self.now_ms % TICKS_PERIOD)
        return self.cells.grams


@pytest.mark.parametrize("weight_g", [0, 1, 750, 1500, 10_000, -3])
def test_a_weight_is_read_by_the_nominal_scale_of_the_plan(weight_g):
    """Gain 128 spans +-3.90625 mV/V over 24 bits; a 10 kg cell of 2 mV/V gives 2 of them."""
    assert pytest.approx(2 / 3.90625 * (1 << 23) / 10_000, abs=1) == SCALE_COUNTS_PER_G
    assert Bottles(Converter(weight_g * SCALE_COUNTS_PER_G)).run(2000) == [weight_g]


def test_scales_that_are_not_fitted_give_no_reading_and_do_not_hold_up_the_others():
    found = Bottles(Absent(), Converter(500 * SCALE_COUNTS_PER_G), Absent()).run(2000)
    assert found == [NO_READING, 500, NO_READING]


def test_without_any_scale_there_is_no_reading():
    assert Bottles(Absent(), Absent()).run(5000) == [NO_READING, NO_READING]


@pytest.mark.parametrize("raw", [0x7FFFFF, 0x800000])
def test_a_value_at_either_end_of_the_range_is_no_reading(raw):
    assert grams(raw) == NO_READING
    assert grams(0x7FFFFE) == round(0x7FFFFE / SCALE_COUNTS_PER_G)
    assert grams(0x800001) == -round(0x7FFFFF / SCALE_COUNTS_PER_G)


def test_a_converter_that_falls_silent_makes_all_scales_give_no_reading():
    silent = Converter(700 * SCALE_COUNTS_PER_G)
    bottles = Bottles(silent, Converter(500 * SCALE_COUNTS_PER_G))
    assert bottles.run(2000) == [700, 500]
    silent.ready_ms = 10**9
    assert bottles.run(700) == [700, 500]
    assert bottles.run(500) == [NO_READING, NO_READING]


def test_a_shorted_line_is_not_an_empty_scale():
    shorted = Converter(0)
    shorted.shorted = True
    assert Bottles(shorted, Converter(500 * SCALE_COUNTS_PER_G)).run(2000) == [NO_READING, 500]


def test_scales_are_read_across_the_wrap_of_the_ticks():
    bottles = Bottles(Converter(500 * SCALE_COUNTS_PER_G), start_ms=TICKS_PERIOD - 1500)
    assert bottles.run(1400) == [500]
    assert bottles.run(3000) == [500]


def test_a_scale_that_comes_late_is_read_like_the_others():
    late = Converter(700 * SCALE_COUNTS_PER_G)
    late.from_ms = 20_000
    bottles = Bottles(Converter(500 * SCALE_COUNTS_PER_G), late)
    assert bottles.run(5000) == [500, NO_READING]
    assert bottles.run(17_000) == [500, 700]


def test_the_only_scale_is_found_however_late_it_comes():
    late = Converter(700 * SCALE_COUNTS_PER_G)
    late.from_ms = 60_000
    assert Bottles(late, Absent()).run(64_000) == [700, NO_READING]


def test_one_that_has_failed_for_good_does_not_silence_the_others_for_ever():
    silent = Converter(700 * SCALE_COUNTS_PER_G)
    bottles = Bottles(silent, Converter(500 * SCALE_COUNTS_PER_G))
    bottles.run(2000)
    silent.from_ms = 10**9
    assert bottles.run(1300) == [NO_READING, NO_READING]
    assert bottles.run(3000) == [NO_READING, 500]
