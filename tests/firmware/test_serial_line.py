"""The host's end of the wire: on a real pseudo-terminal where the kernel matters, else in virtual time."""

import select

import pytest
from fake_port import PATIENT_S, Clock, FakePort, on, patient, spoken
from hypothesis import given
from hypothesis import strategies as st
from pty_peer import PtyPeer

from firmware_bridge.firmware.modbus import framed
from firmware_bridge.link import LinkGarbled, LinkSilent
from firmware_bridge.serial_line import SerialLine

READ = framed(bytes.fromhex("11 04 00 08 00 02"))
READ_REPLY = framed(bytes.fromhex("11 04 04 00 0A 01 02"))
WRITE = framed(bytes.fromhex("11 06 00 01 00 03"))
BLOCK = framed(bytes.fromhex("11 10 00 01 00 02 04 00 0A 01 02"))
BLOCK_REPLY = framed(bytes.fromhex("11 10 00 01 00 02"))
REFUSAL = framed(bytes.fromhex("11 84 02"))
EXCHANGES = {
    "04": (READ, READ_REPLY),
    "03": (framed(bytes.fromhex("11 03 00 08 00 02")), framed(bytes.fromhex("11 03 04 00 0A 01 02"))),
    "06": (WRITE, WRITE),
    "16": (BLOCK, BLOCK_REPLY),
    "exception": (READ, REFUSAL),
}


@pytest.mark.parametrize("name", EXCHANGES)
def test_a_request_goes_out_as_it_is_and_the_whole_reply_comes_back(name):
    request, reply = EXCHANGES[name]
    with PtyPeer(lambda _request: (reply,)) as peer:
        line = patient(peer.port)
        assert line.exchange(request) == reply
        assert peer.requests == [request]
        assert line.trouble is None
        line.close()


def test_a_reply_that_comes_byte_by_byte_is_put_together():
    with PtyPeer(lambda _request: [bytes((byte,)) for byte in READ_REPLY]) as peer:
        line = patient(peer.port)
        assert line.exchange(READ) == READ_REPLY
        line.close()


def test_what_was_waiting_before_the_request_is_thrown_away():
    with PtyPeer(lambda _request: (READ_REPLY,)) as peer:
        line = patient(peer.port)
        peer.say(framed(bytes.fromhex("11 04 04 FF FF FF FF")))
        assert select.select([peer.far], [], [], PATIENT_S)[0]
        assert line.exchange(READ) == READ_REPLY
        line.close()


def test_a_silent_board_is_told_as_silent():
    with PtyPeer() as peer:
        line = SerialLine(peer.port, 115200, Clock(), allowance_s=0.01)
        line.open()
        with pytest.raises(LinkSilent, match="does not answer"):
            line.exchange(READ)
        assert line.trouble == "the board does not answer"
        line.close()


@pytest.mark.parametrize("size", [1, 4, 5, 8])
def test_a_reply_that_breaks_off_is_told_as_garbled(size):
    port = FakePort(Clock(), lambda _request: spoken(READ_REPLY[:size]))
    line = SerialLine("/dev/board", 115200, port.clock)
    line._serial = port
    with pytest.raises(LinkGarbled, match="broke off"):
        line.exchange(READ)


def test_an_exception_is_given_as_soon_as_it_is_whole(mocker):
    port = FakePort(Clock(), lambda _request: spoken(REFUSAL))
    line = on(port, mocker)
    began_s = port.clock.now_s
    assert line.exchange(READ) == REFUSAL
    assert port.clock.now_s - began_s == pytest.approx(0.004 + 4 * 11 / 115200)


@given(
    gaps=st.lists(st.floats(0, 0.03), max_size=60),
    waiting=st.integers(0, 600),
    baud=st.sampled_from([9600, 19200, 115200]),
)
def test_no_exchange_takes_longer_than_its_deadline(gaps, waiting, baud):
    clock = Clock()
    port = FakePort(clock)
    port.due = [(clock.now_s + number * 11 / baud, 0x55) for number in range(waiting)]
    at_s = 0.0
    late = []
    for gap_s in gaps:
        at_s += gap_s
        late.append((at_s, 0x04))
    port.answers = lambda _request: late
    line = SerialLine("/dev/board", baud, clock)
    line._serial = port
    try:
        reply = line.exchange(READ)
    except (LinkSilent, LinkGarbled):
        reply = None
    assert clock.now_s - 100.0 <= line.deadline_s(READ) + 1e-9
    assert reply is None or len(reply) in (5, 9)


def test_the_deadline_is_frames_at_the_baud_and_silences_and_a_fixed_allowance():
    """8 + 9 characters of 11 bits; t3.5 as in Serial Line V1.02 section 2.5.1.1."""
    line = SerialLine("/dev/board", 9600, Clock(), allowance_s=0.06)
    assert line.deadline_s(READ) == pytest.approx(17 * 11 / 9600 + 7 * 3.5 * 11 / 9600 + 0.06, abs=1e-5)
    fast = SerialLine("/dev/board", 115200, Clock(), allowance_s=0.06)
    assert fast.deadline_s(READ) == pytest.approx(17 * 11 / 115200 + 7 * 0.00175 + 0.06)


@pytest.mark.parametrize("baud", [9600, 115200])
def test_the_standards_silence_lies_between_a_reply_and_the_next_request(baud, mocker):
    port = FakePort(Clock(), lambda _request: spoken(READ_REPLY))
    line = on(port, mocker, baud)
    line.exchange(READ)
    heard_s = port.clock.now_s
    line.exchange(READ)
    assert port.written[1][0] - heard_s >= (3.5 * 11 / baud if baud <= 19200 else 0.00175)


def test_a_late_reply_that_is_still_coming_in_is_waited_out_and_thrown_away(mocker):
    port = FakePort(Clock(), lambda _request: spoken(READ_REPLY))
    line = on(port, mocker)
    now_s = port.clock.now_s
    port.due = [(now_s + after_s, byte) for after_s, byte in spoken(bytes(40), first_s=0.0)]
    assert line.exchange(READ) == READ_REPLY
    assert port.written[0][0] - now_s >= 39 * 11 / 115200 + 0.00175


def test_a_line_that_never_falls_silent_is_told_and_not_waited_for(mocker):
    port = FakePort(Clock())
    line = on(port, mocker)
    port.due = [(port.clock.now_s + number * 0.0001, 0) for number in range(10_000)]
    with pytest.raises(LinkGarbled, match="never falls silent"):
        line.exchange(READ)
    assert port.written == []


def test_the_port_is_opened_8e1_with_a_lock(mocker):
    port = FakePort(Clock())
    on(port, mocker, baud=57600)
    positional, named = port.arguments
    assert positional == ("/dev/board", 57600)
    assert (named["bytesize"], named["parity"], named["stopbits"]) == (8, "E", 1)
    assert named["exclusive"] is True
    assert named["timeout"] is not None
    assert named["write_timeout"] is not None
