"""A line that gives back what is sent: neither side may take its own words for the other's."""

import pytest
from desk import BOOT_ID, Desk, dosing, filling
from desk_line import SILENCE_US, DeskLine
from fake_port import Clock, FakePort, spoken
from test_random_bytes import the_command

from controller.run.request import ALL_OFF, Request
from firmware_bridge import registers as reg
from firmware_bridge.board import BoardLink
from firmware_bridge.connect import Expected, connect
from firmware_bridge.faults import HardwareFault
from firmware_bridge.firmware.modbus import framed
from firmware_bridge.firmware.station import ECHO_US
from firmware_bridge.serial_line import BOARD_ALLOWANCE_S, SerialLine
from sim.memory_line import MemoryLine

RENEWAL = framed(bytes((1, 6, 0, 0, 0, 3)))
REQUESTS = {
    "read of an image": framed(bytes((1, 4, 0, 0, 0, 26))),
    "read of the command": framed(bytes((1, 3, 0, 0, 0, 14))),
    "command": the_command(),
    "renewal": RENEWAL,
    "refused function": framed(bytes((1, 43, 0, 0))),
    "refused address": framed(bytes((1, 4, 0x10, 0, 0, 1))),
    "refused command": the_command(boot_id=BOOT_ID + 1),
}


def exchange(line: DeskLine, frame: bytes, pause_us: int = SILENCE_US) -> bytes:
    line.hear(frame, pause_us)
    return line.fall_silent()


@pytest.mark.parametrize("request_", REQUESTS.values(), ids=REQUESTS)
def test_the_board_answers_a_request_and_never_its_own_answer(request_):
    line = DeskLine()
    exchange(line, the_command(lease=2))
    reply = exchange(line, request_)
    assert reply
    before = list(line.hal.history)
    assert exchange(line, reply) == b""
    assert line.hal.history == before


@pytest.mark.parametrize(
    "body",
    [
        bytes((1, 0x83, 2)),
        bytes((1, 0x90, 4)),
        bytes((1, 0xFF, 1)),
        bytes((1, 4, 4, 0, 10, 1, 2)),
        bytes((1, 3, 2, 0, 10)),
        bytes((1, 16, 0, 0, 0, 14)),
    ],
)
def test_what_can_only_be_an_answer_is_not_answered_whoever_said_it(body):
    assert exchange(DeskLine(), framed(body)) == b""


def test_a_host_that_repeats_a_renewal_whose_answer_was_lost_is_answered():
    """It waits for its whole deadline first: longer than any echo takes."""
    assert BOARD_ALLOWANCE_S * 1e6 > ECHO_US
    line = DeskLine()
    exchange(line, the_command(lease=2))
    assert exchange(line, RENEWAL) == RENEWAL
    assert exchange(line, RENEWAL, pause_us=round(BOARD_ALLOWANCE_S * 1e6)) == RENEWAL
    # And what comes a second time at once was not all echo.
    line = DeskLine()
    exchange(line, the_command(lease=2))
    assert exchange(line, RENEWAL) == RENEWAL
    assert exchange(line, RENEWAL) == b""
    assert exchange(line, RENEWAL) == RENEWAL


# The host, before a line that only gives back, and before one that gives back and carries the answer too.


def only_echo(frame: bytes) -> list[bytes]:
    return [frame]


def host_on(answer) -> BoardLink:
    clock = Clock()
    port = FakePort(clock, lambda frame: spoken(b"".join(answer(frame))))
    line = SerialLine("/dev/board", 115200, clock)
    line._serial = port
    return BoardLink(line, 1)


def echo_and_answer(desk: Desk):
    return lambda frame: [frame, desk.node.serve(frame, desk.now_ms)]


@pytest.mark.parametrize("alive", [False, True])
def test_no_image_no_identity_no_motion_is_read_out_of_an_echo(alive):
    link = host_on(echo_and_answer(Desk()) if alive else only_echo)
    assert link.read() is None
    assert link.identity() is None
    assert link.read_motions() is None


@pytest.mark.parametrize("wish", [ALL_OFF, Request(stir=True), filling(), dosing()])
def test_no_command_is_confirmed_by_its_echo(wish):
    link = host_on(only_echo)
    link._boot_id = BOOT_ID
    assert not link.write(wish)


def test_connecting_says_that_the_line_gives_back_what_is_sent():
    with pytest.raises(HardwareFault, match="gives back what is sent"):
        connect(host_on(only_echo), Expected(1, 1, 1))


def test_an_echoed_renewal_is_not_the_boards_and_the_next_image_shows_it():
    desk = Desk()
    desk.link.write(Request(stir=True))
    dead = MemoryLine(lambda frame: frame)
    desk.link._master._transport = dead
    assert desk.link.renew(), "nothing in a renewal tells its echo from its answer"
    assert desk.link.read() is None
    desk.run(2000)
    assert desk.all_off
    assert desk.node.guard.first_trip == reg.TRIP_LEASE
