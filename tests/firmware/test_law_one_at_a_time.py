"""Laws: one concentrate at a time, never dose with the fill valve open; and a request that breaks an
interlock is refused whole: everything goes off, nothing is clamped in silence."""

import pytest
from desk import BOOT_ID, STIRRING, Desk, dosing, filling

from controller.run.image import Trip
from controller.run.request import DoseCommand, FillCommand, Request
from firmware_bridge import registers as reg
from firmware_bridge.firmware.modbus import framed
from firmware_bridge.link import BoardRefused, Master


def test_a_second_motor_is_refused_while_one_turns():
    desk = Desk()
    desk.run_talking(200, dosing(dose_id=1, channel=0, target=1000))
    assert not desk.link.write(dosing(dose_id=2, channel=1))
    assert desk.refusal() == reg.REFUSED_SECOND_MOTOR
    assert desk.hal.clashes == []
    assert desk.all_off


def test_a_dose_together_with_an_opening_is_refused():
    desk = Desk()
    both = Request(fill=FillCommand(1, 5000, BOOT_ID), dose=DoseCommand(0, 1, 100, 100, BOOT_ID))
    assert not desk.link.write(both)
    assert desk.refusal() == reg.REFUSED_DOSE_WITH_VALVE
    assert desk.hal.history == []


def test_a_dose_while_the_valve_is_still_open_is_refused():
    desk = Desk()
    desk.link.write(filling())
    assert not desk.link.write(dosing())
    assert desk.refusal() == reg.REFUSED_DOSE_WITH_VALVE
    assert desk.hal.starts == []
    assert desk.all_off


def test_a_dose_after_the_valve_was_shut_is_taken():
    desk = Desk()
    desk.link.write(filling())
    desk.link.write(STIRRING)
    assert desk.link.write(dosing())
    assert desk.hal.turning


def test_an_opening_stops_the_motor_before_the_valve_moves():
    desk = Desk()
    desk.run_talking(200, dosing(target=1000))
    assert desk.link.write(filling())
    assert desk.hal.history[-2:] == ["motor stop", "valve on"]
    assert desk.hal.clashes == []


FORBIDDEN = {
    "unknown channel": (dosing(channel=3), Trip.COMMAND),
    "dose id nought": (dosing(dose_id=0), Trip.COMMAND),
    "dose id too large": (dosing(dose_id=1 << 30), Trip.COMMAND),
    "no counts": (dosing(target=0), Trip.COMMAND),
    "no speed": (dosing(rate=0), Trip.COMMAND),
    "too fast": (dosing(rate=501), Trip.COMMAND),
    "too many counts": (dosing(target=1001), Trip.DOSE_CAP),
    "open id nought": (filling(open_id=0), Trip.COMMAND),
    "open id too large": (filling(open_id=1 << 30), Trip.COMMAND),
    "no opening time": (filling(max_ms=0), Trip.COMMAND),
    "opening too long": (filling(max_ms=60_001), Trip.VALVE_TIME),
}


@pytest.mark.parametrize("name", FORBIDDEN)
def test_a_forbidden_request_is_refused_whole_and_latches(name):
    outputs, trip = FORBIDDEN[name]
    desk = Desk()
    desk.link.write(STIRRING)
    assert desk.hal.enable
    assert not desk.link.write(outputs)
    assert desk.all_off
    image = desk.image()
    assert (image.first_trip, image.trips) == (trip, {trip})
    assert not desk.link.write(STIRRING)


def test_flags_that_mean_nothing_are_forbidden():
    desk = Desk()
    desk.link.read()
    words = bytearray(2 * reg.COMMAND_WORDS)
    words[0:2] = (2).to_bytes(2, "big")
    words[2:6] = BOOT_ID.to_bytes(4, "big")
    words[7] = 0x05
    with pytest.raises(BoardRefused) as refused:
        Master(desk.pipe, 1).write_block(0, bytes(words))
    assert refused.value.code == 3
    assert desk.image().first_trip is Trip.COMMAND


@pytest.mark.parametrize(
    ("body", "code"),
    [
        ("01 06 00 01 00 05", 2),
        ("01 06 00 08 00 01", 2),
        ("01 10 00 03 00 01 02 00 01", 2),
        ("01 10 00 00 00 01 02 00 01", 2),
        ("01 10 00 00 00 0D 1A" + " 00" * 26, 2),
        ("01 10 00 00 00 0F 1E" + " 00" * 30, 2),
    ],
)
def test_a_part_of_a_command_is_no_command(body, code):
    desk = Desk()
    desk.link.write(STIRRING)
    request = bytes.fromhex(body)
    reply = desk.node.serve(framed(request), desk.now_ms)
    assert reply == framed(bytes((1, request[1] | 0x80, code)))
    assert desk.hal.history == ["enable on"]


def test_a_tripped_board_answers_device_failure():
    desk = Desk()
    desk.hal.wet = True
    desk.run(10)
    master = Master(desk.pipe, 1)
    with pytest.raises(BoardRefused) as refused:
        master.write_single(reg.HOLD_LEASE, 1)
    assert refused.value.code == 4
    words = bytes((0, 3)) + BOOT_ID.to_bytes(4, "big") + bytes((0, reg.COMMAND_ENABLE)) + bytes(20)
    with pytest.raises(BoardRefused) as refused:
        master.write_block(reg.HOLD_LEASE, words)
    assert refused.value.code == 4
    assert desk.refusal() == reg.REFUSED_TRIPPED
