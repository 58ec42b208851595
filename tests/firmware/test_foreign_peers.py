"""Programs that nobody here wrote, on a real pseudo-terminal: they and we understand the same standard.

Debian's `mbpoll` (libmodbus) and pymodbus's client read and command our firmware; our master drives
pymodbus's server. The emulated board lives twenty times slower here, so that no lease runs out on a slow
machine.
"""

import asyncio
import os
import re
import shutil
import struct
import subprocess
import threading
import time

import pytest
from pty_pair import PtyPair
from pymodbus.client import ModbusSerialClient
from pymodbus.server import ModbusSerialServer
from pymodbus.simulator import DataType, SimData, SimDevice

from controller.service.board_settings import expected_of, limits_of
from firmware_bridge import registers as reg
from firmware_bridge.board import BoardLink
from firmware_bridge.connect import connect
from firmware_bridge.link import BoardRefused, Master
from firmware_bridge.serial_line import SerialLine
from sim.emulate import EmulatedBoard
from sim.world import load_world

PATIENT_S = 30.0
SLOWER = 20
ENABLED = {"flags": reg.COMMAND_ENABLE}
DOSING = {
    "flags": reg.COMMAND_ENABLE | reg.COMMAND_RUN,
    "channel": 2,
    "dose_id": 9,
    "target": 120,
    "rate": 50,
}

# What the optional instruments say: scales on five lines, and the second electrode.
OPTIONAL = {
    **{f"scale {line}": raw for line, raw in enumerate((12_345, -20, reg.NO_READING, 0, 32_767))},
    "second ph": -1802,
}


@pytest.fixture
def board(demo_site):
    """The firmware with the demo site's limits, served until the test ends."""
    stop = threading.Event()
    with EmulatedBoard(demo_site, load_world(demo_site), seed=5) as emulated:
        emulated.pins.overrides.update(OPTIONAL)
        emulated._node.poll(0)
        serving = threading.Thread(
            target=emulated.serve, args=(stop.is_set, lambda: time.monotonic() / SLOWER)
        )
        serving.start()
        yield emulated
        stop.set()
        serving.join(10)


def command(board, lease, flags=0, channel=0, dose_id=0, target=0, rate=0, boot_id=None) -> tuple[int, ...]:
    """Make the words of one whole command."""
    block = struct.pack(
        reg.COMMAND_FORMAT, lease, boot_id or board.boot_id, flags, 0, 0, channel, dose_id, target, rate
    )
    return struct.unpack(f">{reg.COMMAND_WORDS}H", block)


def long_word(words, address) -> int:
    return words[address] << 16 | words[address + 1]


class Mbpoll:
    """Debian's package `mbpoll`; each call is a process of its own."""

    def __init__(self, board, site):
        if shutil.which("mbpoll") is None:
            if os.environ.get("CI") == "true":
                pytest.fail("mbpoll is missing: apt-get install mbpoll")
            pytest.skip("mbpoll is not installed (apt-get install mbpoll)")
        board_settings = site.rig.board
        self._begin = ["mbpoll", "-m", "rtu", "-a", str(board_settings.server_id), "-0", "-1", "-o", "10"]
        self._begin += ["-b", str(board_settings.baud), "-P", "none"]
        self._port = board.port

    def _run(self, *options, values=()) -> str:
        call = [*self._begin, *options, self._port, *(str(value) for value in values)]
        done = subprocess.run(call, capture_output=True, text=True, timeout=60, check=False)
        said = done.stdout + done.stderr
        if done.returncode or "failed" in said:
            raise AssertionError(said)
        return said

    def read(self, table, address, count) -> list[int]:
        said = self._run("-t", f"{table}:hex", "-r", str(address), "-c", str(count))
        return [int(word, 16) for word in re.findall(r"^\[\d+\]:\s+0x([0-9A-F]{4})$", said, re.MULTILINE)]

    def read_input(self, address, count) -> list[int]:
        return self.read(3, address, count)

    def read_holding(self, address, count) -> list[int]:
        return self.read(4, address, count)

    def write(self, address, values) -> None:
        """One value goes out by function 06, several by function 16."""
        self._run("-t", "4", "-r", str(address), values=values)


class Pymodbus:
    """pymodbus's synchronous client."""

    def __init__(self, board, site):
        self._id = site.rig.board.server_id
        self.client = ModbusSerialClient(
            board.port, baudrate=site.rig.board.baud, timeout=PATIENT_S, retries=0
        )
        assert self.client.connect()

    def read_input(self, address, count) -> list[int]:
        return self._sound(
            self.client.read_input_registers(address, count=count, device_id=self._id)
        ).registers

    def read_holding(self, address, count) -> list[int]:
        return self._sound(
            self.client.read_holding_registers(address, count=count, device_id=self._id)
        ).registers

    def write(self, address, values) -> None:
        if len(values) == 1:
            self._sound(self.client.write_register(address, values[0], device_id=self._id))
        else:
            self._sound(self.client.write_registers(address, list(values), device_id=self._id))

    @staticmethod
    def _sound(answer):
        if answer.isError():
            raise AssertionError(str(answer))
        return answer


@pytest.fixture(params=[Mbpoll, Pymodbus])
def peer(request, board, demo_site):
    """Each of the foreign masters in turn, joined to our board."""
    found = request.param(board, demo_site)
    yield found
    if isinstance(found, Pymodbus):
        found.client.close()


def test_a_foreign_master_reads_what_the_board_is_and_sees(board, peer, demo_site):
    scan = peer.read_input(0, reg.SCAN_WORDS)
    assert len(scan) == reg.SCAN_WORDS
    assert scan[reg.IN_MAP_ID] == reg.MAP_ID
    assert long_word(scan, reg.IN_BOOT_ID) == board.boot_id
    assert scan[reg.IN_STATUS] == 0
    assert 1000 < scan[reg.IN_TANK_CENTIC] < 3000
    assert scan[reg.IN_SCALES_G :] == [12_345, 0x10000 - 20, 0x8000, 0, 32_767]
    assert scan[reg.IN_SECOND_PH_DECIMV] == 0x10000 - 1802
    identity = peer.read_input(reg.IN_IDENTITY, reg.IDENTITY_WORDS)
    limits = limits_of(demo_site)
    assert identity[1:4] == [reg.FIRMWARE_VERSION, limits.channels, limits.checksum()]
    assert long_word(identity, 5) == limits.valve_cap_ms


def test_a_foreign_master_switches_on_renews_and_switches_off(board, peer):
    peer.write(reg.HOLD_LEASE, command(board, lease=1))
    assert peer.read_input(reg.IN_STATUS, 1) == [reg.STATUS_ARMED]
    peer.write(reg.HOLD_LEASE, command(board, lease=2, **ENABLED))
    assert board.pins.enable
    assert peer.read_holding(0, reg.COMMAND_WORDS) == list(command(board, lease=2, **ENABLED))
    peer.write(reg.HOLD_LEASE, [7])
    assert peer.read_input(reg.IN_LEASE, 1) == [7]
    assert board.pins.enable
    peer.write(reg.HOLD_LEASE, command(board, lease=8))
    assert not board.pins.enable
    assert peer.read_holding(0, reg.COMMAND_WORDS) == list(command(board, lease=8))


def test_a_foreign_master_doses_and_the_same_command_again_moves_nothing_more(board, peer):
    peer.write(reg.HOLD_LEASE, command(board, lease=1))
    peer.write(reg.HOLD_LEASE, command(board, lease=2, **DOSING))
    assert (board.pins.motor.channel, board.pins.motor.count, board.pins.motor.counts_per_s) == (2, 120, 50)
    first = board.pins.motor
    peer.write(reg.HOLD_LEASE, command(board, lease=2, **DOSING))
    peer.write(reg.HOLD_LEASE, command(board, lease=3, **DOSING))
    assert board.pins.motor is first
    motion = peer.read_input(reg.IN_MOTION_CHANNEL, 7)
    assert (motion[0], long_word(motion, 1), long_word(motion, 3)) == (2, 9, 120)


def test_a_foreign_master_is_refused_where_the_board_must_refuse(board, peer):
    with pytest.raises(AssertionError, match=r"(?i)illegal data value|exception_code=3"):
        peer.write(reg.HOLD_LEASE, command(board, lease=1, boot_id=board.boot_id + 1, **ENABLED))
    with pytest.raises(AssertionError, match=r"(?i)illegal data address|exception_code=2"):
        peer.write(reg.HOLD_FLAGS, [1])
    with pytest.raises(AssertionError, match=r"(?i)illegal data address|exception_code=2"):
        peer.read_input(reg.INPUT_WORDS - 1, 2)
    assert not board.pins.enable


def test_a_foreign_master_that_leaves_nothing_behind_lets_ours_connect(board, peer, demo_site):
    assert peer.read_input(0, 1) == [reg.MAP_ID]
    if isinstance(peer, Pymodbus):
        peer.client.close()
    settings = demo_site.rig.board
    with SerialLine(board.port, settings.baud, time.monotonic, allowance_s=PATIENT_S) as line:
        assert connect(BoardLink(line, settings.server_id), expected_of(demo_site)).self_tests == 0


# The other way round: our master, a server that nobody here wrote.


class PymodbusServer:
    """pymodbus's serial server with a few registers, in a thread of its own."""

    def __init__(self, port):
        words = DataType.REGISTERS
        blocks = (
            [SimData(0, count=8, values=False, datatype=DataType.BITS)],
            [SimData(0, count=8, values=False, datatype=DataType.BITS)],
            [SimData(0x6B, values=[555, 0, 100], datatype=words)],
            [SimData(8, values=[10], datatype=words)],
        )
        self._device = SimDevice(0x11, simdata=blocks)
        self._port = port
        self._ready = threading.Event()
        self._thread = threading.Thread(target=lambda: asyncio.run(self._live()))
        self._thread.start()
        assert self._ready.wait(PATIENT_S)

    async def _live(self):
        self._loop, self._end = asyncio.get_running_loop(), asyncio.Event()
        server = ModbusSerialServer(self._device, port=self._port, baudrate=115200)
        await server.listen()
        self._ready.set()
        await self._end.wait()
        await server.shutdown()

    def stop(self):
        self._loop.call_soon_threadsafe(self._end.set)
        self._thread.join(10)


@pytest.fixture
def master():
    with PtyPair() as pair:
        server = PymodbusServer(pair.one)
        try:
            with SerialLine(pair.other, 115200, time.monotonic, allowance_s=PATIENT_S) as line:
                yield Master(line, 0x11)
        finally:
            server.stop()


def test_our_master_reads_a_foreign_server(master):
    """The registers and values of the published examples (Modbus V1.1b3 sections 6.3 and 6.4)."""
    assert struct.unpack(">3H", master.read_holding(0x6B, 3)) == (555, 0, 100)
    assert struct.unpack(">H", master.read_input(8, 1)) == (10,)


def test_our_master_writes_to_a_foreign_server_and_reads_it_back(master):
    master.write_single(0x6C, 3)
    assert struct.unpack(">3H", master.read_holding(0x6B, 3)) == (555, 3, 100)
    master.write_block(0x6B, struct.pack(">2H", 0x000A, 0x0102))
    assert struct.unpack(">3H", master.read_holding(0x6B, 3)) == (0x000A, 0x0102, 100)


def test_our_master_takes_a_foreign_servers_refusal_as_one(master):
    for ask in (
        lambda: master.read_input(0x500, 1),
        lambda: master.read_holding(0x500, 1),
        lambda: master.write_single(0x500, 1),
        lambda: master.write_block(0x500, bytes(4)),
    ):
        with pytest.raises(BoardRefused) as caught:
            ask()
        assert caught.value.code == 2
