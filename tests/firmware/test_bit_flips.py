"""Every single-bit flip of every frame we use is noticed (a property of any CRC with more than one term).

On both sides, first in the frames alone, then over the whole way: board behind its framer, host behind its
serial line.
"""

import struct

import pytest
from desk import STIRRING, Desk, dosing, filling
from desk_line import SILENCE_US, DeskLine
from fake_port import Clock, FakePort, spoken
from kept_limits import limits_are_kept

from firmware_bridge import registers as reg
from firmware_bridge.firmware.modbus import framed
from firmware_bridge.link import BoardRefused, LinkGarbled, Master
from firmware_bridge.serial_line import SerialLine


def flips(frame: bytes):
    for bit in range(8 * len(frame)):
        damaged = bytearray(frame)
        damaged[bit // 8] ^= 1 << bit % 8
        yield bytes(damaged)


def exchanges():
    """Record request and reply of everything the host ever says."""
    desk = Desk()
    seen = []
    serve = desk.pipe._serve

    def record(frame):
        reply = serve(frame)
        seen.append((frame, reply))
        return reply

    desk.pipe._serve = record
    desk.link.read()
    desk.link.write(STIRRING)
    desk.link.renew()
    desk.link.write(filling())
    desk.link.write(STIRRING)
    desk.link.write(dosing())
    desk.link.write(dosing(boot_id=99))
    desk.link.identity()
    desk.link.read_motions()
    master = Master(desk.pipe, 1)
    master.read_holding(0, reg.COMMAND_WORDS)
    for refused in (
        lambda: master.read_input(1000, 1),
        lambda: master.read_holding(1000, 1),
        lambda: master.write_single(1000, 1),
    ):
        with pytest.raises(BoardRefused):
            refused()
    return seen


EXCHANGES = exchanges()


def say_again(master: Master, request: bytes) -> None:
    if request[1] in (3, 4):
        master.read(request)
    elif request[1] == 6:
        master.write_single(*struct.unpack(">HH", request[2:6]))
    else:
        master.write_block(0, request[7:-2])


def test_the_recorded_exchanges_hold_every_function_and_its_exception():
    assert {reply[1] for _, reply in EXCHANGES} == {3, 4, 6, 16, 0x83, 0x84, 0x86, 0x90}


@pytest.mark.parametrize("number", range(len(EXCHANGES)))
def test_a_request_with_one_wrong_bit_is_met_with_silence_and_moves_nothing(number):
    desk = Desk()
    desk.link.write(STIRRING)
    before = list(desk.hal.history)
    for damaged in flips(EXCHANGES[number][0]):
        assert desk.node.serve(damaged, desk.now_ms) == b""
    assert desk.hal.history == before
    assert limits_are_kept(desk.node)


@pytest.mark.parametrize("number", range(len(EXCHANGES)))
def test_a_reply_with_one_wrong_bit_is_never_believed(number):
    request, reply = EXCHANGES[number]

    class Line:
        def exchange(self, _request):
            return self.reply

    line = Line()
    master = Master(line, 1)
    for line.reply in flips(reply):
        with pytest.raises(LinkGarbled):
            say_again(master, request)


@pytest.mark.parametrize("number", range(len(EXCHANGES)))
def test_over_the_line_a_wrong_bit_in_a_request_is_met_with_silence_and_the_next_request_is_answered(number):
    line = DeskLine()
    sound = framed(struct.pack(">BBHH", 1, 4, reg.IN_MAP_ID, 1))
    for damaged in flips(EXCHANGES[number][0]):
        line.hear(damaged, SILENCE_US)
        assert line.fall_silent() == b""
        line.hear(sound)
        assert line.fall_silent() == framed(struct.pack(">BBBH", 1, 4, 2, reg.MAP_ID))
    assert line.hal.history == []
    assert limits_are_kept(line.node)


@pytest.mark.parametrize("number", range(len(EXCHANGES)))
def test_over_the_line_a_wrong_bit_in_a_reply_is_never_believed_and_the_next_reply_is(number):
    request, reply = EXCHANGES[number]
    port = FakePort(Clock())
    line = SerialLine("/dev/board", 115200, port.clock)
    line._serial = port
    master = Master(line, 1)
    for damaged in flips(reply):
        port.answers = lambda _request, damaged=damaged: spoken(damaged)
        with pytest.raises(LinkGarbled):
            say_again(master, request)
    port.answers = lambda _request: spoken(reply)
    if reply[1] & 0x80:
        with pytest.raises(BoardRefused):
            say_again(master, request)
    else:
        say_again(master, request)


READ_ONE, WRITE_ONE, WRITE_BLOCK = "read one", "write one", "write block"
SOUND_BUT_WRONG = [
    (READ_ONE, "02 04 02 00 00"),
    (READ_ONE, "01 03 02 00 00"),
    (READ_ONE, "01 04 04 00 00 00 00"),
    (READ_ONE, "01 04 01 00"),
    (READ_ONE, "01 04 02 00"),
    (READ_ONE, "01 04 02 00 00 00"),
    (READ_ONE, "01 04 04 00 00"),
    (READ_ONE, "01 84 02 00"),
    (READ_ONE, "01 83 02"),
    (WRITE_ONE, "01 06 00 00 00 08"),
    (WRITE_ONE, "01 06 00 01 00 07"),
    (WRITE_BLOCK, "01 10 00 01 00 02"),
    (WRITE_BLOCK, "01 10 00 00 00 01"),
]


@pytest.mark.parametrize(("question", "body"), SOUND_BUT_WRONG)
def test_a_sound_reply_to_another_question_is_not_believed(question, body):
    class Line:
        def exchange(self, _request):
            return framed(bytes.fromhex(body))

    master = Master(Line(), 1)
    ask = {
        READ_ONE: lambda: master.read_input(0, 1),
        WRITE_ONE: lambda: master.write_single(0, 7),
        WRITE_BLOCK: lambda: master.write_block(0, bytes(4)),
    }[question]
    with pytest.raises(LinkGarbled):
        ask()
