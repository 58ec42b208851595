"""The board's rounds: contacts and outputs first, then a frame that has ended. Judged by rounds, not time."""

import pytest
from desk import BOOT_ID, Desk, arming, desk_limits, dosing, filling
from tiny_hal import TinyHal

from controller.run.request import ALL_OFF
from firmware_bridge.board import BoardLink
from firmware_bridge.firmware.framer import Framer, silence_us
from firmware_bridge.firmware.node import Node
from firmware_bridge.firmware.station import Station
from firmware_bridge.firmware.ticks import TICKS_PERIOD
from sim.memory_line import MemoryLine

QUIET_US = silence_us(115_200)


class Line:
    """A host and a board with a line between them that carries one byte after the other."""

    def __init__(self, start_us=0):
        self.hal = TinyHal()
        self.node = Node(self.hal, desk_limits(), BOOT_ID)
        self.station = Station(self.node, Framer(QUIET_US))
        self.now_us = start_us
        self.rounds = 0
        self.link = BoardLink(MemoryLine(self.carry), 1)
        self.round()
        self.node.serve(arming(BOOT_ID), self.now_us // 1000 % TICKS_PERIOD)

    def round(self, us=100):
        self.now_us += us
        self.rounds += 1
        return self.station.turn(self.now_us % TICKS_PERIOD, self.now_us // 1000 % TICKS_PERIOD)

    def arrive(self, data):
        self.station.arrived(data, len(data), self.now_us % TICKS_PERIOD)

    def carry(self, frame):
        for value in frame:
            self.arrive(bytes((value,)))
            assert self.round() == b""
        return self.round(QUIET_US)

    @property
    def all_off(self):
        return not (self.hal.valve or self.hal.enable or self.hal.turning)


@pytest.mark.parametrize("start_us", [0, TICKS_PERIOD - 10_000, TICKS_PERIOD * 1000 - 10_000])
def test_a_host_and_a_board_understand_each_other_over_a_line_of_single_bytes(start_us):
    """The ticks wrap in the middle: those of us at the second start, those of ms at the third."""
    line = Line(start_us)
    assert line.link.write(ALL_OFF)
    assert line.link.write(dosing(target=10))
    assert line.hal.turning
    line.hal.turn(10)
    line.round()
    image = line.link.read()
    assert image is not None
    assert image.motion.count_done == 10
    assert not image.motion.running


@pytest.mark.parametrize("contact", ["high", "wet"])
@pytest.mark.parametrize("wish", [dosing(target=900), filling()], ids=["dosing", "filling"])
def test_a_contact_that_opens_has_pump_and_valve_off_within_the_same_round(contact, wish):
    line = Line()
    line.link.write(wish)
    assert not line.all_off
    setattr(line.hal, contact, True)
    before = line.rounds
    line.round()
    assert line.rounds == before + 1
    assert line.all_off


def test_a_contact_that_opens_while_a_command_has_just_ended_is_obeyed_before_the_command():
    line = Line()
    frame = []
    wanted = Desk()
    wanted.pipe._serve = lambda sent: frame.append(sent) or b""
    wanted.link.write(filling())
    line.arrive(frame[0])
    line.hal.high = True
    assert line.round(QUIET_US) != b""
    assert line.hal.history == []


@pytest.mark.parametrize("wish", [dosing(target=900), filling()], ids=["dosing", "filling"])
def test_a_frame_that_is_answered_in_the_same_round_puts_nothing_off(wish):
    line = Line()
    line.link.write(wish)
    line.arrive(bytes.fromhex("01 04 00 00 00 01 31 CA"))
    line.hal.high = True
    assert line.round(QUIET_US) != b""
    assert line.hal.history[-1] in ("motor stop", "enable off")
    assert line.all_off
    line = Line()
    line.link.write(wish)
    line.arrive(b"\x01\x04 not for anybody")
    line.hal.high = True
    assert line.round(QUIET_US) == b""
    assert line.all_off


def test_a_frame_is_answered_once_and_only_after_the_silence():
    line = Line()
    frame = bytes.fromhex("01 04 00 00 00 01 31 CA")
    line.arrive(frame)
    assert line.round(QUIET_US - 1) == b""
    assert line.round(1)[:3] == b"\x01\x04\x02"
    assert line.round(QUIET_US) == b""


def test_noise_before_a_frame_spoils_it_unless_a_silence_parts_them():
    frame = bytes.fromhex("01 04 00 00 00 01 31 CA")
    line = Line()
    line.arrive(b"\x55" + frame)
    assert line.round(QUIET_US) == b""
    line.arrive(b"\x55")
    assert line.round(QUIET_US) == b""
    line.arrive(frame)
    assert line.round(QUIET_US) != b""


def test_the_node_goes_round_even_while_bytes_never_stop():
    line = Line()
    line.link.write(filling())
    for _ in range(3000):
        line.arrive(b"\x00")
        line.round(1000)
    assert line.all_off
