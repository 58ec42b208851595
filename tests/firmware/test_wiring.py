"""The board's own hardware behind the node, on a bench of pins that remember every level."""

import re
from pathlib import Path

import pytest
from bench import Bench
from fake_machine import put_in_place

from firmware_bridge.firmware import pin_plan
from firmware_bridge.firmware.front_ends import FrontEnds
from firmware_bridge.registers import NO_READING, SCALE_LINES

FIRMWARE = Path(__file__).parents[2] / "firmware_bridge" / "firmware"
FRONT_ENDS = FrontEnds(1500, 3000, 0, 3000, 6000, 500, 3000, 9000)


@pytest.fixture
def bench(monkeypatch):
    bench = Bench()
    wiring, _ = put_in_place(monkeypatch, bench)
    bench.hal = wiring.BoardHal()
    return bench


def attend(bench, rounds=5):
    for _ in range(rounds):
        bench.now_us += 1000
        bench.hal.attend(bench.now_us // 1000)


def test_only_wiring_and_main_touch_the_boards_own_modules():
    users = {
        file.name
        for file in FIRMWARE.glob("*.py")
        if re.search(r"^\s*(import|from) (machine|rp2|onewire|time|os)\b", file.read_text(), re.MULTILINE)
    }
    assert users == {"main.py", "wiring.py"}


def test_the_first_things_driven_are_the_dangerous_outputs_and_all_to_off(bench):
    assert bench.history[:3] == [(pin_plan.VALVE, 0), (pin_plan.ENABLE, 0), (pin_plan.DECODER_GATE, 1)]


def test_nothing_pulses_valve_enable_gate_or_step_while_the_board_comes_up(bench):
    assert set(bench.levels(pin_plan.VALVE)) == {0}
    assert set(bench.levels(pin_plan.ENABLE)) == {0}
    assert set(bench.levels(pin_plan.DECODER_GATE)) == {1}
    assert set(bench.levels(pin_plan.STEP)) == {0}


@pytest.mark.parametrize("channel", range(16))
def test_the_gate_is_shut_whenever_the_address_changes_and_opens_on_the_right_driver(bench, channel):
    bench.hal._pulses.select(15 - channel, False)
    before = len(bench.history)
    bench.hal._pulses.select(channel, False)
    gate = 0
    address = [bench.driven[pin] for pin in pin_plan.DECODER_ADDRESS]
    for pin, level in bench.history[before:]:
        if pin == pin_plan.DECODER_GATE:
            gate = level
        if pin in pin_plan.DECODER_ADDRESS:
            assert gate == 1, "the address changed while a driver was enabled"
    assert bench.driven[pin_plan.DECODER_GATE] == 0
    assert sum(level << bit for bit, level in enumerate(address)) == channel


def test_a_driver_is_enabled_before_its_first_pulse_and_disabled_after_the_last(bench):
    bench.hal.motor_start(2, 3, 100)
    bench.run_cycles(1000)
    bench.hal.motor_stop()
    events = [(pin, level) for pin, level in bench.history if pin in (pin_plan.DECODER_GATE, pin_plan.STEP)]
    opened = events.index((pin_plan.DECODER_GATE, 0))
    shut = len(events) - 1 - events[::-1].index((pin_plan.DECODER_GATE, 1))
    steps = [index for index, (pin, level) in enumerate(events) if pin == pin_plan.STEP and level]
    assert opened < min(steps)
    assert max(steps) < shut
    assert bench.level(pin_plan.DECODER_GATE) == 1


def test_all_off_stops_a_motor_and_shuts_everything(bench):
    hal = bench.hal
    hal.set_valve(True)
    hal.set_enable(True)
    hal.motor_start(0, 100, 100)
    bench.run_cycles(500)
    hal.all_off()
    steps = bench.levels(pin_plan.STEP).count(1)
    bench.run_cycles(5000)
    assert bench.levels(pin_plan.STEP).count(1) == steps
    outputs = (pin_plan.VALVE, pin_plan.ENABLE, pin_plan.DECODER_GATE, pin_plan.STEP)
    assert [bench.level(pin) for pin in outputs] == [0, 0, 1, 0]


@pytest.mark.parametrize(
    ("pin", "ask"), [(pin_plan.HIGH_FLOAT, "high_float"), (pin_plan.LEAK, "leak")], ids=["float", "leak"]
)
def test_a_contact_that_opens_and_a_wire_that_is_cut_both_read_as_the_worst(bench, pin, ask):
    contact = getattr(bench.hal, ask)
    bench.outside[pin] = 0
    assert not contact()
    del bench.outside[pin]
    assert contact()


def test_the_button_is_pressed_when_its_contact_closes(bench):
    assert not bench.hal.reset_pressed()
    bench.outside[pin_plan.RESET_BUTTON] = 0
    assert bench.hal.reset_pressed()


def test_without_front_ends_the_converters_give_no_reading(bench):
    attend(bench, 20)
    hal = bench.hal
    assert {hal.read_ph_decimv(), hal.read_ec_us_cm(), hal.read_level_decimm()} == {NO_READING}


def test_readings_go_through_converter_and_front_end(bench):
    bench.hal.wire(FRONT_ENDS)
    bench.adc_decimv.update({26: 20_313, 27: 6200, 28: 17_500})
    attend(bench)
    # One step of a 12-bit converter is 8 times 0.1 mV.
    assert bench.hal.read_ph_decimv() == pytest.approx(1771, abs=4)
    assert bench.hal.read_ec_us_cm() == pytest.approx(1240, abs=3)
    assert bench.hal.read_level_decimm() == pytest.approx(4500, abs=5)


@pytest.mark.parametrize("rail", [0, 33_000])
def test_a_module_at_a_rail_gives_no_reading(bench, rail):
    bench.hal.wire(FRONT_ENDS)
    attend(bench)
    bench.adc_decimv.update({26: rail, 28: rail})
    attend(bench)
    assert (bench.hal.read_ph_decimv(), bench.hal.read_level_decimm()) == (NO_READING, NO_READING)


def test_the_ends_of_the_converter_are_the_ends_of_its_scale(bench):
    for decimv in (0, 33_000):
        bench.adc_decimv["core"] = decimv
        assert bench.hal.read_core_decimv() == decimv


def test_every_pulse_of_the_flow_meter_is_counted(bench):
    for _ in range(450):
        bench.put_outside(pin_plan.FLOW_PULSES, 0)
        bench.put_outside(pin_plan.FLOW_PULSES, 1)
    assert bench.hal.read_flow_pulses() == 450


def test_a_round_does_at_most_one_slow_thing(bench, monkeypatch):
    """Slow: anything on the one-wire line, a reading of the scales, a series of conversions."""
    hal = bench.hal
    hal.wire(FRONT_ENDS)
    done = []
    monkeypatch.setattr(hal._thermometers, "attend", lambda now_ms: done.append("thermometers"))
    monkeypatch.setattr(hal._load_cells, "attend", lambda now_ms: done.append("scales"))
    for name in ("_ph", "_conductivity", "_level"):
        converter = getattr(hal, name)
        read = converter.read_u16
        monkeypatch.setattr(converter, "read_u16", lambda name=name, read=read: done.append(name) or read())
    seen = set()
    for _ in range(10):
        done.clear()
        attend(bench, 1)
        assert len(set(done)) == 1
        seen |= set(done)
    assert seen == {"thermometers", "scales", "_ph", "_conductivity", "_level"}


def test_lines_without_a_scale_give_no_reading(bench):
    attend(bench, 50)
    assert len(pin_plan.SCALE_DATA) == SCALE_LINES
    assert {bench.hal.read_scale_g(line) for line in range(SCALE_LINES)} == {NO_READING}


def test_no_interrupt_lengthens_a_clock_pulse_of_the_scales(bench):
    seen = []
    drive = bench.drive
    bench.drive = lambda pin, level: (seen.append((pin, level, bench.irq_off)), drive(pin, level))
    bench.hal._pulse_scales()
    assert seen == [(pin_plan.SCALE_CLOCK, 1, True), (pin_plan.SCALE_CLOCK, 0, True)]
    assert not bench.irq_off
