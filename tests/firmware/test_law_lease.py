"""Law: every "on" that can harm is a lease that the board ends by itself within 2 s of silence."""

import struct

import pytest
from desk import BOOT_ID, STIRRING, Desk, desk_limits, dosing, filling
from tiny_hal import TinyHal

from controller.run.image import Trip
from controller.run.request import ALL_OFF, Request
from firmware_bridge import registers as reg
from firmware_bridge.firmware.limits import LONGEST_LEASE_MS, Limits
from firmware_bridge.firmware.modbus import framed
from firmware_bridge.firmware.node import Node

# What the board's main loop is built for: one slow thing a round.
LONGEST_ROUND_MS = 20

EVERYTHING_ON_ITS_OWN = [
    STIRRING,
    Request(air=True),
    Request(agitators=frozenset({"kelp"})),
    Request(drain=True),
    Request(permit=True),
    filling(),
    dosing(target=1000, rate=100),
]


@pytest.mark.parametrize("outputs", EVERYTHING_ON_ITS_OWN)
def test_silence_switches_everything_off_before_two_seconds_are_over(outputs):
    desk = Desk()
    assert desk.link.write(outputs)
    desk.run(LONGEST_LEASE_MS - 50)
    assert not desk.all_off
    desk.run(50)
    assert LONGEST_LEASE_MS + LONGEST_ROUND_MS < 2000
    assert desk.all_off
    assert desk.image().first_trip is Trip.LEASE


@pytest.mark.parametrize(
    "fields",
    [
        (2, BOOT_ID, 0, 1, 10_000, 0, 0, 0, 0),
        (2, BOOT_ID, reg.COMMAND_RUN, 0, 0, 0, 1, 1000, 100),
    ],
    ids=["valve", "motor"],
)
def test_silence_ends_a_valve_or_a_motor_that_runs_without_the_enable(fields):
    desk = Desk()
    head = bytes((1, 16, 0, 0, 0, reg.COMMAND_WORDS, 2 * reg.COMMAND_WORDS))
    desk.node.serve(framed(head + struct.pack(reg.COMMAND_FORMAT, *fields)), desk.now_ms)
    assert not desk.all_off
    assert not desk.hal.enable
    desk.run(LONGEST_LEASE_MS - 50)
    assert not desk.all_off
    desk.run(50)
    assert desk.all_off
    assert desk.image().first_trip is Trip.LEASE


def test_silence_is_noticed_even_if_the_board_was_not_polled_meanwhile():
    desk = Desk()
    desk.link.write(STIRRING)
    desk.now_ms += 2000
    assert not desk.link.write(STIRRING)
    assert desk.all_off
    assert desk.refusal() == reg.REFUSED_NOT_ARMED


@pytest.mark.parametrize("renew", ["write", "renew"])
def test_talking_keeps_everything_on(renew):
    desk = Desk()
    desk.link.write(STIRRING)
    for _ in range(10):
        desk.run(LONGEST_LEASE_MS - 50)
        assert desk.link.write(STIRRING) if renew == "write" else desk.link.renew()
    assert desk.hal.enable
    assert not desk.image().trips


def test_a_frame_that_is_repeated_by_something_on_the_wire_keeps_nothing_on():
    desk = Desk()
    sent = []
    desk.pipe.on_request = lambda frame: sent.append(frame) or (frame,)
    desk.link.write(STIRRING)
    for _ in range(4):
        desk.run(500)
        desk.node.serve(sent[-1], desk.now_ms)
    assert desk.all_off


def test_a_repeated_renewal_keeps_nothing_on():
    desk = Desk()
    desk.link.write(STIRRING)
    counter = desk.node.guard.lease_counter
    for _ in range(4):
        desk.run(500)
        desk.node.serve(framed(bytes((1, 6, 0, 0, counter >> 8, counter & 0xFF))), desk.now_ms)
    assert desk.all_off


def test_reading_keeps_nothing_on():
    desk = Desk()
    desk.link.write(STIRRING)
    for _ in range(20):
        desk.run(100)
        desk.link.read()
    assert desk.all_off


def test_after_a_lost_lease_only_an_all_off_command_arms_again():
    desk = Desk()
    desk.link.write(STIRRING)
    desk.run(3000)
    desk.link.renew()
    assert not desk.link.write(STIRRING)
    assert desk.all_off
    assert desk.link.write(ALL_OFF)
    assert not desk.image().trips
    assert desk.link.write(STIRRING)
    assert desk.hal.enable


def test_an_idle_board_misses_nobody():
    desk = Desk()
    desk.link.write(ALL_OFF)
    desk.run(60_000)
    assert not desk.image().trips
    assert desk.link.write(STIRRING)


@pytest.mark.parametrize("lease_ms", [0, 2001, 60_000])
def test_a_board_with_a_longer_lease_in_its_limits_stays_off(lease_ms):
    desk = Desk(desk_limits(lease_ms=lease_ms))
    assert desk.image().first_trip is Trip.SELF_TEST
    assert not desk.link.write(STIRRING)
    desk.press_reset()
    assert desk.image().first_trip is Trip.SELF_TEST


@pytest.mark.parametrize(
    "limits",
    [
        Limits((), (), (), 1000, 1000),
        Limits((1,) * 17, (1,) * 17, (1,) * 17, 1000, 1000),
        Limits((1,), (1, 1), (1,), 1000, 1000),
        Limits((1,), (1,), (), 1000, 1000),
        Limits((0,), (1,), (1,), 1000, 1000),
        Limits((1,), (1 << 30,), (1,), 1000, 1000),
        Limits((1,), (1,), (0x10000,), 1000, 1000),
        Limits((1,), (1,), (1,), 0, 1000),
        Limits((1,), (1,), (1,), 1000, 1000, night_ms=0),
        Limits((1,), (1,), (1,), 1000, 999),
    ],
)
def test_unsound_limits_keep_the_board_off(limits):
    node = Node(TinyHal(), limits, 5)
    assert not limits.sound()
    assert limits.checksum() == 0
    assert node.guard.first_trip == reg.TRIP_SELF_TEST


@pytest.mark.parametrize("boot_id", [0, -1, 1 << 30])
def test_an_impossible_boot_id_keeps_the_board_off(boot_id):
    assert Node(TinyHal(), desk_limits(), boot_id).guard.latched()


def test_an_older_lease_counter_neither_renews_nor_starts_anything():
    desk = Desk()
    sent = []
    desk.pipe.on_request = lambda frame: sent.append(frame) or (frame,)
    desk.link.write(dosing(target=1000, rate=100))
    desk.link.write(STIRRING)
    desk.run(500)
    desk.node.serve(sent[-2], desk.now_ms)
    assert desk.refusal() == reg.REFUSED_LEASE
    assert not desk.hal.turning
    desk.run(1500)
    assert desk.all_off


def test_a_late_all_off_is_obeyed():
    desk = Desk()
    sent = []
    desk.pipe.on_request = lambda frame: sent.append(frame) or (frame,)
    desk.link.write(ALL_OFF)
    desk.link.write(STIRRING)
    desk.node.serve(sent[-2], desk.now_ms)
    assert desk.all_off
