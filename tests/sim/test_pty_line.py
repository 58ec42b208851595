"""The pseudo-terminal line: what pyserial writes comes out at the far end, unless the wire spoils it."""

import os
import threading
import time
from pathlib import Path

import pytest
import serial

from firmware_bridge.link import LinkSilent
from firmware_bridge.serial_line import SerialLine
from sim.pty_line import BITS_PER_CHARACTER, PtyLine, whole

DEADLINE_S = 10.0
REQUEST = bytes.fromhex("1106000000020a9b")


@pytest.fixture
def line():
    with PtyLine() as made:
        made.far_end.settimeout(DEADLINE_S)
        yield made


@pytest.fixture
def port(line):
    with serial.Serial(line.port, 115200, timeout=DEADLINE_S) as opened:
        yield opened


def received(far_end, size):
    data = b""
    while len(data) < size:
        data += far_end.recv(size - len(data))
    return data


def open_fds():
    return len(os.listdir("/proc/self/fd"))


def test_every_byte_value_passes_both_ways_unchanged(line, port):
    everything = bytes(range(256))
    port.write(everything)
    assert received(line.far_end, 256) == everything
    line.far_end.sendall(everything)
    assert port.read(256) == everything


@pytest.mark.parametrize(
    ("wire", "arrived"),
    [
        (lambda data: (), b""),
        (lambda data: ((0.0, data), (0.0, data)), b"onetwoonetwo"),
        (lambda data: ((0.0, bytes([data[0] ^ 0x10]) + data[1:]),), b"\x7fnetwo"),
        (lambda data: ((0.05, data[:3]), (0.0, data[3:])), b"twoone"),
    ],
    ids=["lost", "repeated", "one bit flipped", "overtaken"],
)
def test_a_wire_may_spoil_what_passes(line, port, wire, arrived):
    taken = threading.Event()

    def spoil(data):
        taken.set()
        return wire(data)

    line.to_board.wire = spoil
    port.write(b"onetwo")
    assert taken.wait(DEADLINE_S)
    assert received(line.far_end, len(arrived)) == arrived
    # What comes behind it proves that nothing more came of it.
    line.to_board.wire = whole
    port.write(b"end")
    assert received(line.far_end, 3) == b"end"


def test_a_paced_line_is_never_faster_than_its_bits():
    baud, size = 9600, 48
    with PtyLine(baud) as line, serial.Serial(line.port, 115200, timeout=DEADLINE_S) as port:
        line.far_end.settimeout(DEADLINE_S)
        began_s = time.monotonic()
        port.write(bytes(size))
        assert received(line.far_end, size) == bytes(size)
        there_s = time.monotonic()
        line.far_end.sendall(bytes(size))
        assert port.read(size) == bytes(size)
        back_s = time.monotonic()
    frame_s = size * BITS_PER_CHARACTER / baud
    assert there_s - began_s >= frame_s
    assert back_s - there_s >= frame_s


def test_what_nobody_takes_is_lost_and_blocks_nobody(line, port):
    for _ in range(200):
        line.far_end.sendall(bytes(4096))
    port.write(b"still here")
    assert received(line.far_end, 10) == b"still here"
    assert port.in_waiting < 200 * 4096


def test_a_far_end_that_is_gone_is_a_silent_board(line):
    line.far_end.close()
    with SerialLine(line.port, 115200, time.monotonic) as host, pytest.raises(LinkSilent):
        host.exchange(REQUEST)


def test_closing_leaves_no_descriptor_no_thread_and_no_port():
    threads, fds = threading.active_count(), open_fds()
    for _ in range(3):
        line = PtyLine()
        assert open_fds() > fds
        line.close()
        line.close()
    assert (threading.active_count(), open_fds()) == (threads, fds)
    assert not Path(line.port).exists()
