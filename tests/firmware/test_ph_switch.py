"""Two electrodes on one converter pin: sampled by turns, each only when the switch has settled."""

import pytest
from bench import Bench
from fake_machine import put_in_place

from firmware_bridge.firmware import pin_plan
from firmware_bridge.firmware.front_ends import FrontEnds
from firmware_bridge.firmware.ph_switch import SETTLE_MS, PhSwitch
from firmware_bridge.firmware.ticks import TICKS_PERIOD
from firmware_bridge.registers import NO_READING

ENDS = (1500, 3000, 0, 3000, 6000, 500, 3000, 9000)
# Zero at 1500 mV, gain 3: what the module gives for +177.1 mV and for -100 mV of the electrode.
FIRST, SECOND = 20_313, 12_000
HALF_WAY = (FIRST + SECOND) // 2


class Switched(dict):
    """Converter inputs of which pin 26 stands behind an analogue switch that takes a while to settle."""

    def __init__(self, bench, settles_ms=15):
        super().__init__(bench.adc_decimv)
        self.bench, self.settles_us = bench, 1000 * settles_ms
        self.stuck = None
        self.modules = (FIRST, SECOND)
        self.level, self.since_us, self.changed_us = 0, 0, 0
        self.looks = []

    def __getitem__(self, pin):
        if pin != pin_plan.ADC_PH:
            return super().__getitem__(pin)
        level = self.bench.level(pin_plan.PH_SELECT) if self.stuck is None else self.stuck
        if level != self.level:
            self.level, self.since_us = level, self.changed_us
        settled = self.bench.now_us - self.since_us >= self.settles_us
        self.looks.append(settled)
        return self.modules[level] if settled else HALF_WAY


@pytest.fixture
def bench(monkeypatch):
    bench = Bench()
    wiring, _ = put_in_place(monkeypatch, bench)
    bench.hal = wiring.BoardHal()
    bench.adc_decimv = Switched(bench)
    drive = bench.drive

    def noted(pin, level):
        if pin == pin_plan.PH_SELECT and level != bench.driven.get(pin):
            bench.adc_decimv.changed_us = bench.now_us
        drive(pin, level)

    bench.drive = noted
    return bench


def attend(bench, rounds=200):
    for _ in range(rounds):
        bench.now_us += 1000
        bench.hal.attend(bench.now_us // 1000)


def seen(bench):
    return bench.hal.read_ph_decimv(), bench.hal.read_second_ph_decimv()


def near(decimv):
    """One step of a 12-bit converter is 8 times 0.1 mV, 2.7 of them behind a gain of 3."""
    return pytest.approx(decimv, abs=4)


def test_each_electrode_is_read_by_its_own_turn_of_the_switch(bench):
    bench.hal.wire(FrontEnds(*ENDS, second_ph=1))
    attend(bench)
    assert seen(bench) == (near(1771), near(-1000))


def test_the_converter_is_never_looked_at_before_the_switch_has_settled(bench):
    bench.hal.wire(FrontEnds(*ENDS, second_ph=1))
    attend(bench, 1000)
    assert len(bench.adc_decimv.looks) > 100
    assert all(bench.adc_decimv.looks[16:])


def test_a_second_module_that_is_not_fitted_gives_no_reading_and_the_switch_stands_still(bench):
    bench.hal.wire(FrontEnds(*ENDS))
    attend(bench)
    assert seen(bench) == (near(1771), NO_READING)
    assert set(bench.levels(pin_plan.PH_SELECT)) == {0}


def test_without_front_ends_neither_electrode_gives_a_reading(bench):
    attend(bench)
    assert seen(bench) == (NO_READING, NO_READING)


@pytest.mark.parametrize(("stuck", "shown"), [(0, 1771), (1, -1000)])
def test_a_switch_that_is_stuck_shows_one_electrode_twice(bench, stuck, shown):
    """Nothing on the board can tell; the wiring text says how it is proved at commissioning."""
    bench.hal.wire(FrontEnds(*ENDS, second_ph=1))
    bench.adc_decimv.stuck = stuck
    attend(bench)
    assert seen(bench) == (near(shown), near(shown))


def test_an_electrode_that_is_torn_off_gives_no_reading_and_leaves_the_other_alone(bench):
    bench.hal.wire(FrontEnds(*ENDS, second_ph=1))
    attend(bench)
    bench.adc_decimv.modules = (FIRST, 0)
    attend(bench)
    assert seen(bench) == (near(1771), NO_READING)


class Select:
    def __init__(self):
        self.driven = []

    def value(self, level):
        self.driven.append(level)


@pytest.mark.parametrize("start_ms", [0, TICKS_PERIOD - 30])
def test_the_settling_time_is_waited_for_across_the_wrap_of_the_ticks(start_ms):
    select = Select()
    switch = PhSwitch(select)
    switch.two = True
    taken = []
    for after_ms in range(200):
        now_ms = (start_ms + after_ms) % TICKS_PERIOD
        if switch.is_settled(now_ms):
            switch.take(after_ms, now_ms)
            taken.append(after_ms)
    assert taken == list(range(0, 200, SETTLE_MS))
    assert select.driven == [1, 0] * (len(taken) // 2)
    assert (switch.first_decimv, switch.second_decimv) == (taken[-2], taken[-1])
