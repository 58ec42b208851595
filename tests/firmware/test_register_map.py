import struct

import pytest
from desk import BOOT_ID, Desk, desk_limits, dosing, filling

from firmware_bridge import registers as reg
from firmware_bridge.firmware.modbus import framed
from firmware_bridge.firmware.node import Node


def word_offsets(layout: str) -> list[int]:
    """Give the word at which each field of a struct format begins."""
    return [struct.calcsize(layout[:end]) // 2 for end in range(1, len(layout))]


def test_the_addresses_of_the_scan_block_agree_with_its_layout():
    named = {value for name, value in vars(reg).items() if name.startswith("IN_")}
    further = {reg.IN_SCALES_G + line for line in range(reg.SCALE_LINES)}
    assert sorted((named | further) - {reg.IN_IDENTITY, reg.IN_CHANNELS}) == word_offsets(reg.SCAN_FORMAT)
    assert struct.calcsize(reg.SCAN_FORMAT) == 2 * reg.SCAN_WORDS


def test_the_addresses_of_the_command_agree_with_its_layout():
    named = sorted(value for name, value in vars(reg).items() if name.startswith("HOLD_"))
    assert named == word_offsets(reg.COMMAND_FORMAT)
    assert struct.calcsize(reg.COMMAND_FORMAT) == 2 * reg.COMMAND_WORDS


def test_the_blocks_do_not_overlap_and_one_read_takes_each():
    """Modbus Application Protocol V1.1b3: at most 125 registers in one read, 123 in one write."""
    assert reg.SCAN_WORDS <= reg.IN_IDENTITY
    assert reg.IN_IDENTITY + reg.IDENTITY_WORDS <= reg.IN_CHANNELS
    assert reg.IN_IDENTITY <= 125
    assert reg.INPUT_WORDS - reg.IN_IDENTITY <= 125
    assert reg.COMMAND_WORDS <= 123


def registers_read_one_by_one(desk: Desk, function: int, count: int) -> list[int]:
    """Read with plain frames, as any Modbus tool would."""
    words = []
    for address in range(count):
        reply = desk.node.serve(framed(bytes((1, function, 0, address, 0, 1))), desk.now_ms)
        words.append(int.from_bytes(reply[3:5], "big"))
    return words


def test_any_modbus_tool_finds_the_readings_at_their_addresses():
    desk = Desk()
    desk.hal.readings = [-1771, 1240, 2150, -163, 5525]
    desk.hal.pulses = 0x12345
    desk.hal.second_ph = -1802
    desk.hal.grams = [12_500, -3, reg.NO_READING, 0, 40_000]
    desk.run_talking(500, dosing(dose_id=0x20001, target=300, channel=2))
    words = registers_read_one_by_one(desk, 4, reg.SCAN_WORDS)
    assert words[reg.IN_MAP_ID] == 0x5404
    assert words[reg.IN_BOOT_ID] << 16 | words[reg.IN_BOOT_ID + 1] == BOOT_ID
    assert words[reg.IN_PH_DECIMV] == 0x10000 - 1771
    assert words[reg.IN_SECOND_PH_DECIMV] == 0x10000 - 1802
    assert words[reg.IN_SCALES_G : reg.IN_SCALES_G + 5] == [12_500, 0x10000 - 3, 0x8000, 0, 0x8000]
    assert words[reg.IN_SUPPLY_CENTIC] == 0x10000 - 163
    assert words[reg.IN_LEVEL_DECIMM] == 5525
    assert words[reg.IN_FLOW_PULSES : reg.IN_FLOW_PULSES + 2] == [1, 0x2345]
    assert words[reg.IN_MOTION_DOSE_ID : reg.IN_MOTION_DOSE_ID + 2] == [2, 1]
    assert words[reg.IN_MOTION_CHANNEL] == 2
    assert words[reg.IN_STATUS] == reg.STATUS_ENABLED | reg.STATUS_RUNNING | reg.STATUS_ARMED


def test_any_modbus_tool_finds_the_standing_command():
    desk = Desk()
    desk.link.write(filling(open_id=9, max_ms=70_000 - 20_000))
    words = registers_read_one_by_one(desk, 3, reg.COMMAND_WORDS)
    assert words[reg.HOLD_LEASE] == 2
    assert words[reg.HOLD_FLAGS] == reg.COMMAND_ENABLE
    assert words[reg.HOLD_OPEN_ID : reg.HOLD_OPEN_ID + 2] == [0, 9]
    assert words[reg.HOLD_OPEN_MAX_MS : reg.HOLD_OPEN_MAX_MS + 2] == [0, 50_000]


@pytest.mark.parametrize(("function", "last"), [(4, reg.INPUT_WORDS - 1), (3, reg.COMMAND_WORDS - 1)])
def test_registers_end_where_the_map_ends(function, last):
    desk = Desk()
    assert desk.node.serve(framed(bytes((1, function, 0, last, 0, 1))), 0)[1] == function
    assert desk.node.serve(framed(bytes((1, function, 0, last, 0, 2))), 0)[1:3] == bytes((function | 0x80, 2))


@pytest.mark.parametrize("reading", [reg.NO_READING, -32769, 32768, 10**9])
def test_a_reading_that_fits_no_register_is_no_reading(reading):
    desk = Desk()
    desk.hal.readings = [reading] * 5
    desk.run(10)
    image = desk.image()
    assert (image.ph_mv, image.ec_us_cm, image.tank_c, image.supply_c, image.level_mm) == (None,) * 5


def test_the_extremes_of_a_reading_are_readings():
    desk = Desk()
    desk.hal.readings = [-32767, 32767, 0, -1, 1]
    desk.run(10)
    image = desk.image()
    assert (image.ph_mv, image.ec_us_cm, image.tank_c, image.supply_c, image.level_mm) == (
        -3276.7,
        32767,
        0,
        -0.01,
        0.1,
    )


def test_before_the_first_poll_there_is_no_reading():
    desk = Desk()
    desk.node = Node(desk.hal, desk.limits, BOOT_ID + 1)
    assert desk.image().ph_mv is None


def test_every_limit_changes_the_checksum_of_the_limits():
    changes = [
        {},
        {"dose_caps": (1000, 1000, 999)},
        {"night_caps": (1500, 1499, 1500)},
        {"max_counts_per_s": (499, 500, 500)},
        {"valve_cap_ms": 60_001},
        {"lease_ms": 1999},
        {"night_ms": 1},
        {"anti_drip": (0, 0, 1)},
    ]
    assert len({desk_limits(**change).checksum() for change in changes}) == len(changes)
    assert Desk().link.identity().limits_checksum == desk_limits().checksum()
