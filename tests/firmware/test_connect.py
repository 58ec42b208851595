"""Who answers on the line: every way in which it is not this site's board is told with what to do."""

import struct

import pytest
from desk import Desk, desk_limits

from firmware_bridge import registers as reg
from firmware_bridge.board import BoardIdentity, BoardLink
from firmware_bridge.connect import Expected, connect
from firmware_bridge.faults import HardwareFault
from firmware_bridge.firmware.modbus import framed
from sim.memory_line import MemoryLine

GOOD = {
    "map_id": reg.MAP_ID,
    "firmware_version": reg.FIRMWARE_VERSION,
    "channels": 3,
    "limits_checksum": 4711,
    "lease_ms": 2000,
    "valve_cap_ms": 60_000,
    "front_ends_checksum": 815,
    "self_tests": 0,
}
EXPECTED = Expected(limits_checksum=4711, front_ends_checksum=815, channels=3)
INSTALL, LIMITS = "tankhand board install", "tankhand board limits"


def board_that_says(**changes) -> BoardLink:
    words = struct.pack(reg.IDENTITY_FORMAT, *{**GOOD, **changes}.values())
    return BoardLink(MemoryLine(lambda _frame: framed(bytes((17, 4, len(words))) + words)), 17)


def fault_of(link: BoardLink, expected=EXPECTED) -> HardwareFault:
    with pytest.raises(HardwareFault) as caught:
        connect(link, expected)
    assert caught.value.where == "board with server id 17"
    assert "\n" not in str(caught.value)
    return caught.value


def test_the_right_board_is_let_in_with_what_it_says_of_itself():
    assert connect(board_that_says(), EXPECTED) == BoardIdentity(**GOOD)


def test_a_board_with_more_channels_than_the_site_has_pumps_is_let_in():
    assert connect(board_that_says(channels=8), EXPECTED).channels == 8


def test_the_firmware_on_the_desk_is_let_in_by_its_own_limits():
    desk = Desk()
    identity = connect(
        desk.link, Expected(desk_limits().checksum(), desk.link.identity().front_ends_checksum, 3)
    )
    assert identity.firmware_version == reg.FIRMWARE_VERSION
    assert identity.self_tests == 0


def test_connecting_reads_and_never_writes():
    seen = []
    desk = Desk()
    desk.pipe.on_request = lambda frame: seen.append(frame[1]) or (frame,)
    connect(desk.link, Expected(desk_limits().checksum(), desk.link.identity().front_ends_checksum, 3))
    assert set(seen) == {4}
    assert desk.hal.history == []


@pytest.mark.parametrize(
    ("changes", "problem", "remedy"),
    [
        ({"map_id": 0x1234}, "another kind of device", "board.port"),
        ({"map_id": 0}, "another kind of device", "board.server_id"),
        ({"map_id": reg.MAP_ID + 1}, "version 5 of the register map, not 4", INSTALL),
        ({"firmware_version": 0x0109}, "it runs firmware 1.9, and 3.1 is needed", INSTALL),
        ({"limits_checksum": 0, "channels": 0}, "no sound limits", LIMITS),
        ({"limits_checksum": 4712}, "its limits are not those of this site", LIMITS),
        ({"front_ends_checksum": 816}, "front ends", LIMITS),
        ({"channels": 2}, "2 pump channels, and rig.toml names pumps on 3", LIMITS),
    ],
)
def test_each_difference_has_its_own_words_and_its_remedy(changes, problem, remedy):
    fault = fault_of(board_that_says(**changes))
    assert problem in fault.problem
    assert remedy in fault.remedy


def test_silence_is_told_with_everything_it_may_come_from():
    fault = fault_of(BoardLink(MemoryLine(lambda _frame: b""), 17))
    assert fault.problem == "nothing answers"
    for cause in ("power", "board.port", "board.baud", "board.server_id"):
        assert cause in fault.remedy


def test_a_device_that_refuses_the_read_is_another_device():
    refusing = framed(bytes((17, 0x84, 2)))
    assert "another kind of device" in fault_of(BoardLink(MemoryLine(lambda _frame: refusing), 17)).problem


def test_noise_on_the_line_is_told_apart_from_silence():
    fault = fault_of(BoardLink(MemoryLine(lambda _frame: b"\x00\xff\x13noise"), 17))
    assert "cannot be understood" in fault.problem
    assert "board.baud" in fault.remedy


SELF_TESTS = {name: value for name, value in vars(reg).items() if name.startswith("SELF_TEST_")}


@pytest.mark.parametrize("name", SELF_TESTS)
def test_every_self_test_of_the_map_has_words_of_its_own(name):
    alone = fault_of(board_that_says(self_tests=SELF_TESTS[name]))
    assert "does not know" not in alone.problem
    assert alone.remedy
    others = [
        fault_of(board_that_says(self_tests=bit)).problem for key, bit in SELF_TESTS.items() if key != name
    ]
    assert alone.problem not in others


def test_failed_self_tests_are_told_one_by_one_and_together():
    both = fault_of(board_that_says(self_tests=reg.SELF_TEST_CODE | reg.SELF_TEST_INPUTS))
    assert "not as it was installed, and its contacts contradict" in both.problem
    assert INSTALL in both.remedy
    assert "high float" in both.remedy


def test_a_self_test_that_this_program_does_not_know_is_told_and_not_passed_over():
    assert "does not know" in fault_of(board_that_says(self_tests=0x8000)).problem
