"""Published examples: PDUs of Modbus Application Protocol V1.1b3 (sections 6.3, 6.6, 6.12, 6.5, 6.11 and 7).

Framed for server 0x11 with CRCs computed apart; that of function 06 (9A 9B) is also in print. The PDU of
function 04 is from memory, its CRC computed.
"""

import pytest
from desk_line import SILENCE_US, DeskLine
from fake_port import Clock, FakePort, spoken

from firmware_bridge.firmware.modbus import Server, framed
from firmware_bridge.link import BoardRefused, Master
from firmware_bridge.serial_line import SerialLine


class PlainStore:
    """Registers of the published examples, nothing behind them."""

    def __init__(self):
        self.holding = {0x6B: 555, 0x6C: 0, 0x6D: 100, 1: 0, 2: 0}
        self.input = {8: 10}

    def _words(self, table, address, count):
        try:
            return b"".join(table[address + n].to_bytes(2, "big") for n in range(count))
        except KeyError:
            return b""

    def input_words(self, address, count):
        return self._words(self.input, address, count)

    def holding_words(self, address, count):
        return self._words(self.holding, address, count)

    def write_word(self, address, value):
        if address not in self.holding:
            return 2
        self.holding[address] = value
        return 0

    def write_words(self, address, words):
        for n in range(0, len(words), 2):
            code = self.write_word(address + n // 2, int.from_bytes(words[n : n + 2], "big"))
            if code:
                return code
        return 0


SERVED = {
    "03 three registers": ("11 03 00 6B 00 03 76 87", "11 03 06 02 2B 00 00 00 64 C8 BA"),
    "04 one register": ("11 04 00 08 00 01 B2 98", "11 04 02 00 0A F8 F4"),
    "06 register 2 = 3": ("11 06 00 01 00 03 9A 9B", "11 06 00 01 00 03 9A 9B"),
    "16 two registers": ("11 10 00 01 00 02 04 00 0A 01 02 C6 F0", "11 10 00 01 00 02 12 98"),
}


@pytest.mark.parametrize("name", SERVED)
def test_published_request_gets_the_published_reply(name):
    request, reply = (bytes.fromhex(text) for text in SERVED[name])
    assert Server(0x11, PlainStore()).answer(request) == reply


class PlainNode:
    """The published registers on a board's line; nothing to go round for."""

    def __init__(self):
        self.server = Server(0x11, PlainStore())

    def poll(self, _now_ms):
        pass

    def serve(self, frame, _now_ms):
        return self.server.answer(frame)


@pytest.mark.parametrize("name", SERVED)
@pytest.mark.parametrize("pieces", ["whole", "byte by byte", "in two"])
def test_published_request_gets_the_published_reply_over_the_line(name, pieces):
    request, reply = (bytes.fromhex(text) for text in SERVED[name])
    line = DeskLine(PlainNode())
    size = {"whole": len(request), "byte by byte": 1, "in two": 5}[pieces]
    for place in range(0, len(request), size):
        assert line.hear(request[place : place + size], SILENCE_US - 1) == b""
    assert line.look(SILENCE_US - 1) == b""
    assert line.look(1) == reply


@pytest.mark.parametrize("name", SERVED)
@pytest.mark.parametrize("place", range(1, 8))
def test_a_published_request_torn_by_more_than_the_silence_is_no_request(name, place):
    """Serial Line V1.02 section 2.5.1.1: t3.5 ends a frame. Neither half is one."""
    request = bytes.fromhex(SERVED[name][0])
    line = DeskLine(PlainNode())
    line.hear(request[:place])
    assert line.hear(request[place:], SILENCE_US) == b""
    assert line.fall_silent() == b""


ASKED = {
    "03 three registers": (lambda master: master.read_holding(0x6B, 3), bytes.fromhex("02 2B 00 00 00 64")),
    "04 one register": (lambda master: master.read_input(8, 1), bytes.fromhex("00 0A")),
    "06 register 2 = 3": (lambda master: master.write_single(1, 3), None),
    "16 two registers": (lambda master: master.write_block(1, bytes.fromhex("00 0A 01 02")), None),
}


def on_a_port(answer: bytes) -> tuple[Master, FakePort]:
    port = FakePort(Clock(), lambda _request: spoken(answer))
    line = SerialLine("/dev/board", 115200, port.clock)
    line._serial = port
    return Master(line, 0x11), port


@pytest.mark.parametrize("name", SERVED)
def test_our_master_sends_the_published_request_and_understands_the_published_reply(name):
    request, reply = (bytes.fromhex(text) for text in SERVED[name])
    ask, understood = ASKED[name]
    master, port = on_a_port(reply)
    assert ask(master) == understood
    assert [data for _, data in port.written] == [request]


def test_our_master_understands_the_published_exception():
    master, _port = on_a_port(bytes.fromhex("11 83 02 C1 34"))
    with pytest.raises(BoardRefused) as caught:
        master.read_holding(0x4A1, 1)
    assert caught.value.code == 2


def test_published_write_lands_in_the_registers():
    store = PlainStore()
    Server(0x11, store).answer(bytes.fromhex(SERVED["16 two registers"][0]))
    assert (store.holding[1], store.holding[2]) == (0x000A, 0x0102)


def test_a_missing_register_gets_the_exception_frame_with_its_known_crc():
    request = framed(bytes.fromhex("11 03 04 A1 00 01"))
    assert Server(0x11, PlainStore()).answer(request) == bytes.fromhex("11 83 02 C1 34")


@pytest.mark.parametrize(
    ("frame", "function"),
    [("11 05 00 AC FF 00 4E 8B", 0x05), ("11 0F 00 13 00 0A 02 CD 01 BF 0B", 0x0F)],
)
def test_published_coil_writes_are_answered_illegal_function(frame, function):
    assert Server(0x11, PlainStore()).answer(bytes.fromhex(frame)) == framed(
        bytes((0x11, function | 0x80, 1))
    )


def test_published_exception_example_has_our_exception_form():
    """V1.1b3 section 7: request 01 04A1 0001, exception 81 02; function 01 is not ours, so the code is 01."""
    reply = Server(0x0A, PlainStore()).answer(bytes.fromhex("0A 01 04 A1 00 01 AC 63"))
    assert reply == framed(bytes.fromhex("0A 81 01"))
    assert framed(bytes.fromhex("0A 81 02")) == bytes.fromhex("0A 81 02 B0 53")


@pytest.mark.parametrize(
    ("body", "code"),
    [
        ("11 03 00 6B 00 00", 3),
        ("11 03 00 6B 00 7E", 3),
        ("11 03 00 6B 00 03 00", 3),
        ("11 04 00 09 00 01", 2),
        ("11 06 00 50 00 01", 2),
        ("11 06 00 01 00", 3),
        ("11 10 00 01 00 02 03 00 0A 01 02", 3),
        ("11 10 00 01 00 02 04 00 0A 01", 3),
        ("11 10 00 01 00 00 00", 3),
        ("11 10 00 01", 3),
        ("11 10 00 50 00 01 02 00 00", 2),
        ("11 2B 0E 01 00", 1),
    ],
)
def test_bad_requests_get_the_exception_of_the_standards_flow_charts(body, code):
    """V1.1b3 §6: function, then quantity and length (03), then address (02)."""
    request = bytes.fromhex(body)
    reply = Server(0x11, PlainStore()).answer(framed(request))
    assert reply == framed(bytes((0x11, request[1] | 0x80, code)))


@pytest.mark.parametrize("server_id", [0x00, 0x10, 0x12, 0xF7])
def test_frames_for_another_server_and_broadcasts_are_met_with_silence(server_id):
    store = PlainStore()
    assert Server(0x11, store).answer(framed(bytes((server_id, 6, 0, 1, 0, 3)))) == b""
    assert store.holding[1] == 0


@pytest.mark.parametrize("frame", [b"", b"\x11", framed(b"\x11"), framed(b"\x11" + bytes(254))])
def test_frames_too_short_or_too_long_are_met_with_silence(frame):
    """Serial Line V1.02: an RTU frame has at most 256 bytes."""
    assert Server(0x11, PlainStore()).answer(frame) == b""
