import io

import pytest
from desk import POLL_MS, STIRRING, Desk, dosing

from firmware_bridge import registers as reg
from firmware_bridge.firmware.front_ends import FrontEnds
from firmware_bridge.firmware.modbus import framed
from firmware_bridge.firmware.node import Node
from firmware_bridge.firmware.self_test import (
    code_fault,
    converter_fault,
    inputs_fault,
    manifest_of,
    memory_fault,
    strays,
)
from firmware_bridge.registers import NO_READING

FILES = {"firmware_bridge/registers.py": b"A = 1\n" * 300, "firmware_bridge/firmware/node.py": b""}


def opened(files):
    def open_file(path):
        if path not in files:
            raise FileNotFoundError(path)
        return io.BytesIO(files[path])

    return open_file


def test_the_manifest_is_plain_text_with_the_crc_of_each_file():
    """CRC-32 of ISO-HDLC: the check value of "123456789" is CBF43926 (catalogue of parametrised CRCs)."""
    assert manifest_of([("digits", b"123456789")]).splitlines()[0] == b"cbf43926 digits"


def test_files_as_they_were_installed_are_sound():
    assert not code_fault(manifest_of(FILES.items()), opened(FILES))


@pytest.mark.parametrize("path", FILES)
def test_an_altered_a_longer_and_a_missing_file_are_found(path):
    manifest = manifest_of(FILES.items())
    assert code_fault(manifest, opened({**FILES, path: FILES[path] + b"\n"}))
    assert code_fault(manifest, opened({name: data for name, data in FILES.items() if name != path}))


@pytest.mark.parametrize("bit", range(0, 8 * 1800, 97))
def test_a_flipped_bit_in_a_file_is_found(bit):
    altered = bytearray(FILES["firmware_bridge/registers.py"])
    altered[bit // 8] ^= 1 << bit % 8
    assert code_fault(
        manifest_of(FILES.items()), opened({**FILES, "firmware_bridge/registers.py": bytes(altered)})
    )


def test_no_altered_byte_and_no_torn_end_of_the_manifest_goes_unnoticed():
    manifest = manifest_of(FILES.items())
    for index in range(len(manifest)):
        altered = bytearray(manifest)
        altered[index] ^= 1
        assert code_fault(bytes(altered), opened(FILES)), index
        assert code_fault(manifest[:index], opened(FILES)), index


def test_a_manifest_that_lists_nothing_proves_nothing():
    assert code_fault(b"", opened(FILES))
    assert code_fault(manifest_of([]), opened(FILES))


def test_sound_memory_passes():
    assert not memory_fault(bytearray(700))


class StuckBit(bytearray):
    """Memory in which one bit always reads as `level`."""

    where = 301
    bit = 3
    level = 1

    def __getitem__(self, index):
        value = super().__getitem__(index)
        if index != self.where:
            return value
        return value | 1 << self.bit if self.level else value & ~(1 << self.bit)


class CoupledAddress(bytearray):
    """Memory in which one address line is dead: two places are one."""

    line = 256

    def __setitem__(self, index, value):
        super().__setitem__(index & ~self.line, value)
        super().__setitem__(index | self.line, value)


@pytest.mark.parametrize("bit", range(8))
@pytest.mark.parametrize("level", [0, 1])
def test_a_bit_that_is_stuck_is_found(bit, level):
    block = StuckBit(700)
    block.bit, block.level = bit, level
    assert memory_fault(block)


@pytest.mark.parametrize("line", [1, 2, 4, 8, 64, 256])
def test_a_dead_address_line_is_found(line):
    block = CoupledAddress(512)
    block.line = line
    assert memory_fault(block)


@pytest.mark.parametrize(
    ("decimv", "fault"), [(0, True), (4499, True), (6060, False), (7870, False), (33_000, True)]
)
def test_the_converter_must_see_the_diode_on_its_own_chip(decimv, fault):
    """RP2040 datasheet §4.9.5: 0.706 V at 27 °C, -1.721 mV/°C; 0.787 V at -20 °C and 0.606 V at 85 °C."""
    assert converter_fault(decimv) == fault


@pytest.mark.parametrize(
    ("reset", "lifted", "level", "fault"),
    [
        (False, False, 0, False),
        (False, True, 6700, False),
        (False, True, 0, True),
        (False, True, NO_READING, False),
        (True, False, 4000, True),
    ],
)
def test_contacts_that_contradict_the_level_or_a_button_that_is_stuck_are_found(reset, lifted, level, fault):
    assert inputs_fault(reset, lifted, level) == fault


def identity_words(desk: Desk) -> list[int]:
    """Give front ends checksum and failed self-tests as any Modbus tool reads them."""
    reply = desk.node.serve(framed(bytes((1, 4, 0, reg.IN_IDENTITY + 7, 0, 2))), desk.now_ms)
    return [int.from_bytes(reply[at : at + 2], "big") for at in (3, 5)]


def test_a_sound_board_tells_its_front_ends_and_no_failed_self_test():
    desk = Desk()
    assert identity_words(desk) == [0, 0]
    checksum = FrontEnds(1500, 3000, 0, 3000, 6000, 500, 3000, 9000).checksum()
    desk.node = Node(desk.hal, desk.limits, 5, front_ends_checksum=checksum)
    assert identity_words(desk) == [checksum, 0]


def test_a_motor_count_that_runs_backwards_is_told_until_the_local_reset():
    desk = Desk()
    desk.run_talking(200, dosing(target=900))
    desk.hal.turned = 1
    desk.run(POLL_MS)
    assert desk.all_off
    assert identity_words(desk)[1] == reg.SELF_TEST_MOTOR
    desk.press_reset()
    assert identity_words(desk)[1] == 0


def test_a_pulse_counter_that_cannot_be_read_is_told_until_the_local_reset():
    desk = Desk()
    desk.run_talking(200, STIRRING)
    desk.hal.pulses = -1
    desk.run(POLL_MS)
    assert desk.all_off
    assert identity_words(desk)[1] == reg.SELF_TEST_PULSES
    desk.hal.pulses = 0
    desk.press_reset()
    assert identity_words(desk)[1] == 0


def test_what_failed_at_power_on_is_told_together_and_no_reset_mends_it():
    desk = Desk()
    desk.node.fail_self_test(reg.SELF_TEST_CODE)
    desk.node.fail_self_test(reg.SELF_TEST_CONVERTER)
    desk.press_reset()
    assert identity_words(desk)[1] == reg.SELF_TEST_CODE | reg.SELF_TEST_CONVERTER
    desk.link.write(STIRRING)
    assert desk.all_off


# Files that could run in place of the firmware's own.


def folders(*more: str):
    """Give a listing of a board with the two files below and whatever else lies there."""
    lying = [
        "main.py",
        "manifest.txt",
        "board.bin",
        "record_a.bin",
        "pack/__init__.py",
        "pack/in/one.py",
        *more,
    ]

    def names_in(folder):
        inside = [path[len(folder) + 1 if folder else 0 :] for path in lying if path.startswith(folder)]
        return sorted({name.split("/")[0] for name in inside})

    return names_in


LISTED = manifest_of([("main.py", b"1"), ("pack/__init__.py", b"2"), ("pack/in/one.py", b"3")])


def test_a_board_as_it_was_installed_has_no_strays_whatever_data_lies_beside():
    assert strays(LISTED, folders("record_b.bin", "notes.txt", "pack/readme.md")) == []


@pytest.mark.parametrize(
    "stray",
    [
        "boot.py",
        "machine.py",
        "struct.mpy",
        "pack/in/two.py",
        "pack/in/one.mpy",
        "lib/struct.py",
        "pack/in/one/__init__.py",
        "pack/other/one.py",
        "webrepl",
    ],
)
def test_what_could_run_in_place_of_the_firmware_is_named(stray):
    found = strays(LISTED, folders(stray))
    assert len(found) == 1
    assert stray.startswith(found[0])
