"""The board's program: power-on, self-tests, the main loop and its end. No judgement about pumps or valves.

Service mode: hold the local reset button while power comes on. The board then starts nothing and waits at its
prompt with every output off. Install anew only so: a board that runs hears no Ctrl-C at its USB port, and its
watchdog, which cannot be stopped, would reset it in the middle of a file.

One round: look at the line, one slow thing, contacts and outputs, at most one frame, feed the watchdog.
Whatever goes wrong in a round switches everything off and starts the board anew; a round that hangs is ended
by the watchdog. Between frames nothing allocates, but for the round that writes the record (see `kept.py`).
"""

import binascii
import os
import time

import machine  # type: ignore[import-not-found]
import micropython  # type: ignore[import-not-found]

from firmware_bridge.firmware import pin_plan, self_test
from firmware_bridge.firmware.board_file import BOARD_FILE, FALLBACK_BAUD, FALLBACK_SERVER_ID, unpack
from firmware_bridge.firmware.framer import Framer, silence_us
from firmware_bridge.firmware.kept import RECORD_FILES
from firmware_bridge.firmware.limits import Limits
from firmware_bridge.firmware.node import Node
from firmware_bridge.firmware.station import Station
from firmware_bridge.firmware.wiring import BoardHal
from firmware_bridge.registers import (
    MAX_NUMBER,
    SELF_TEST_CODE,
    SELF_TEST_CONVERTER,
    SELF_TEST_INPUTS,
    SELF_TEST_MEMORY,
    SELF_TEST_SETTINGS,
    SELF_TEST_STRAYS,
)

# mypy reads the imports below, the board never does: MicroPython has no `typing`.
TYPE_CHECKING = False
if TYPE_CHECKING:
    from typing import BinaryIO

    from firmware_bridge.firmware.board_file import BoardFile

# Longer than every sound round. The longest one writes the record: to erase a sector of flash takes 45 ms as
# a rule and 400 ms at most (data sheets of such flash, from memory). A write that takes longer ends in a
# restart with everything off, and spoils one slot of two.
WATCHDOG_MS = 500
# Ctrl-C at the USB prompt: no byte from there may end the program.
_NO_KEY = -1
_BUTTON_LOOKS = 20
# Enough for `attend` to have been at each converter.
_FIRST_LOOKS = 10
_LINE_BYTES = 256
_EVEN = 0


def start() -> None:
    """Run the board; come back only in service mode."""
    hal = BoardHal()
    if _button_is_held(hal):
        return
    micropython.kbd_intr(_NO_KEY)
    try:
        _run(hal)
    finally:
        try:
            hal.all_off()
        finally:
            machine.reset()


def _button_is_held(hal: BoardHal) -> bool:
    """Look for 20 ms: a long wire takes a while to rise when its pull-up comes on."""
    for _ in range(_BUTTON_LOOKS):
        if not hal.reset_pressed():
            return False
        time.sleep_ms(1)  # type: ignore[attr-defined]
    return True


def _run(hal: BoardHal) -> None:
    settings = _settings()
    if settings is None:
        node = Node(hal, Limits((), (), (), 0, 0), _boot_id(), FALLBACK_SERVER_ID)
        baud = FALLBACK_BAUD
    else:
        hal.wire(settings.front_ends)
        checksum = settings.front_ends.checksum()
        node = Node(hal, settings.limits, _boot_id(), settings.server_id, checksum, RecordFiles())
        baud = settings.baud
    failed = _failed_tests(hal, settings)
    if failed:
        node.fail_self_test(failed)
    uart = machine.UART(
        pin_plan.UART_ID,
        baudrate=baud,
        bits=8,
        parity=_EVEN,
        stop=1,
        tx=machine.Pin(pin_plan.UART_TX),
        rx=machine.Pin(pin_plan.UART_RX),
        txbuf=2 * _LINE_BYTES,
        rxbuf=2 * _LINE_BYTES,
        timeout=0,
    )
    station = Station(node, Framer(silence_us(baud)))
    line = bytearray(_LINE_BYTES)
    watchdog = machine.WDT(timeout=WATCHDOG_MS)
    while True:
        _round(hal, station, uart, line)
        watchdog.feed()


def _round(hal: BoardHal, station: Station, uart: "machine.UART", line: bytearray) -> None:
    now_us = time.ticks_us()  # type: ignore[attr-defined]
    now_ms = time.ticks_ms()  # type: ignore[attr-defined]
    # Asked for more than is there, the port would wait for it, a character's time after each one.
    count = min(uart.any(), _LINE_BYTES)
    if count:
        uart.readinto(line, count)
        station.arrived(line, count, time.ticks_us())  # type: ignore[attr-defined]
    hal.attend(now_ms)
    reply = station.turn(now_us, now_ms)
    if reply:
        uart.write(reply)


class RecordFiles:
    """The two slots of the record as files (`firmware_protocols.Storage`); closing a file makes it safe."""

    def load(self, slot: int) -> bytes:
        """Give a slot's bytes."""
        return _content(RECORD_FILES[slot])

    def save(self, slot: int, data: bytes) -> None:
        """Replace a slot."""
        with open(RECORD_FILES[slot], "wb") as file:
            file.write(data)


def _settings() -> "BoardFile | None":
    """Give the board's settings; None when there are none or they make no sense."""
    return unpack(_content(BOARD_FILE))


def _opened(path: str) -> "BinaryIO":
    return open(path, "rb")


def _content(path: str) -> bytes:
    """Give a file's bytes; empty when it cannot be read."""
    try:
        with _opened(path) as file:
            return file.read()
    except OSError:
        return b""


def _names_in(folder: str) -> list[str]:
    return os.listdir(folder) if folder else os.listdir()


def _boot_id() -> int:
    """Give a number that no earlier start has had, for all practical purposes: 1 to 2**30 - 1."""
    chance = int.from_bytes(os.urandom(4), "big") ^ binascii.crc32(machine.unique_id())
    return (chance & MAX_NUMBER) or 1


def _failed_tests(hal: BoardHal, settings: "BoardFile | None") -> int:
    """Give the SELF_TEST_* bits of the power-on tests that failed."""
    for _ in range(_FIRST_LOOKS):
        hal.attend(time.ticks_ms())  # type: ignore[attr-defined]
    failed = 0 if settings is not None else SELF_TEST_SETTINGS
    manifest = _content(self_test.MANIFEST_FILE)
    if self_test.code_fault(manifest, _opened):
        failed |= SELF_TEST_CODE
    elif self_test.strays(manifest, _names_in):
        failed |= SELF_TEST_STRAYS
    if self_test.memory_fault(bytearray(self_test.MEMORY_TEST_BYTES)):
        failed |= SELF_TEST_MEMORY
    if self_test.converter_fault(hal.read_core_decimv()):
        failed |= SELF_TEST_CONVERTER
    if self_test.inputs_fault(hal.reset_pressed(), hal.high_float(), hal.read_level_decimm()):
        failed |= SELF_TEST_INPUTS
    return failed
