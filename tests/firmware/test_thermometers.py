import pytest
from bench import Bench
from fake_machine import OneWireBus
from hypothesis import given
from hypothesis import strategies as st

from firmware_bridge.firmware.one_wire_search import OneWireSearch
from firmware_bridge.firmware.thermometers import Thermometers, centic, crc8
from firmware_bridge.firmware.ticks import TICKS_PERIOD
from firmware_bridge.registers import NO_READING


def with_crc(data: bytes) -> bytes:
    return data + bytes((crc8(data, len(data)),))


def memory(raw: int, configuration: int = 0x7F) -> bytes:
    return with_crc(bytes((raw & 0xFF, raw >> 8 & 0xFF, 0x4B, 0x46, configuration, 0xFF, 0x0C, 0x10)))


LOW = with_crc(bytes.fromhex("28 01 00 00 00 00 00"))
HIGH = with_crc(bytes.fromhex("28 02 00 00 00 00 00"))
OTHER_FAMILY = with_crc(bytes.fromhex("10 03 00 00 00 00 00"))


def test_the_crc_is_that_of_the_published_example():
    """Widely printed example of a 64-bit code: 02 1C B8 01 00 00 00 has the CRC A2 (from memory)."""
    assert crc8(bytes.fromhex("02 1C B8 01 00 00 00"), 7) == 0xA2


@pytest.mark.parametrize(
    ("raw", "expected"),
    [
        (0x07D0, 12_500),
        (0x0191, 2506),
        (0x00A2, 1013),
        (0x0008, 50),
        (0x0000, 0),
        (0xFFF8, -50),
        (0xFF5E, -1012),
        (0xFE6F, -2506),
        (0xFC90, -5500),
    ],
)
def test_temperatures_are_those_of_the_kinds_table(raw, expected):
    """Table of such a thermometer's data sheet (from memory): 125, 25.0625, 10.125, 0.5, 0 °C and below."""
    assert centic(memory(raw)) == expected


def test_the_value_of_power_on_is_no_reading():
    assert centic(memory(0x0550)) == NO_READING
    assert centic(memory(0x0551)) == 8506


@pytest.mark.parametrize("stuck", [b"\x00" * 9, b"\xff" * 9])
def test_a_line_that_is_stuck_is_no_reading_though_zeros_have_a_sound_crc(stuck):
    assert centic(stuck) == NO_READING


@pytest.mark.parametrize("bit", range(72))
def test_no_flipped_bit_is_read(bit):
    altered = bytearray(memory(0x0191))
    altered[bit // 8] ^= 1 << bit % 8
    assert centic(altered) == NO_READING


class Glasshouse:
    def __init__(self, thermometers, start_ms=0):
        self.bench = Bench()
        self.bench.thermometers = thermometers
        self.bus = OneWireBus(self.bench)
        self.thermometers = Thermometers(self.bus, self.bus.scan())
        self.now_ms = start_ms

    def run(self, ms):
        for _ in range(ms // 10):
            self.now_ms += 10
            self.thermometers.attend(self.now_ms % TICKS_PERIOD)
        return self.thermometers.centic


def test_the_lower_code_is_the_tanks_whatever_order_they_are_found_in():
    found = {HIGH: memory(0x00A2), LOW: memory(0x0191)}
    assert Glasshouse(found).run(2500) == [2506, 1013]


def test_before_the_first_conversion_has_ended_there_is_no_reading():
    house = Glasshouse({HIGH: memory(0x00A2), LOW: memory(0x0191)})
    assert house.run(750) == [NO_READING, NO_READING]


def test_a_long_time_runs_across_the_wrap_of_the_ticks():
    house = Glasshouse({HIGH: memory(0x00A2), LOW: memory(0x0191)}, start_ms=TICKS_PERIOD - 400)
    assert house.run(2500) == [2506, 1013]


def test_readings_follow_what_is_measured():
    house = Glasshouse({HIGH: memory(0x00A2), LOW: memory(0x0191)})
    house.run(2500)
    house.bench.thermometers[LOW] = memory(0x0008)
    assert house.run(2500) == [50, 1013]


@pytest.mark.parametrize(
    "codes", [[], [LOW], [LOW, OTHER_FAMILY], [LOW, HIGH[:7] + b"\x00"], [LOW, HIGH, with_crc(b"\x28" * 7)]]
)
def test_other_than_exactly_two_give_no_reading_because_either_could_be_which(codes):
    house = Glasshouse({code: memory(0x0191) for code in codes})
    assert house.run(3000) == [NO_READING, NO_READING]


def test_one_that_falls_silent_loses_its_reading_and_the_other_keeps_its_own():
    house = Glasshouse({HIGH: memory(0x00A2), LOW: memory(0x0191)})
    house.run(2500)
    del house.bench.thermometers[LOW]
    assert house.run(2500) == [NO_READING, 1013]


def test_a_line_that_dies_loses_both_readings_and_comes_back():
    house = Glasshouse({HIGH: memory(0x00A2), LOW: memory(0x0191)})
    house.run(2500)
    house.bench.line_is_dead = True
    assert house.run(2500) == [NO_READING, NO_READING]
    house.bench.line_is_dead = False
    assert house.run(4000) == [2506, 1013]


def test_a_round_moves_at_most_one_byte():
    house = Glasshouse({HIGH: memory(0x00A2), LOW: memory(0x0191)})
    moves = []
    for name in ("reset", "writebyte", "readbyte"):
        act = getattr(house.bus, name)
        setattr(house.bus, name, lambda *value, act=act: (moves.append(1), act(*value))[1])
    for _ in range(400):
        moves.clear()
        house.run(10)
        assert len(moves) <= 1
    assert house.thermometers.centic == [2506, 1013]


# Late ones.


@pytest.mark.parametrize("at_first", [[], [LOW], [OTHER_FAMILY], [LOW, HIGH, with_crc(b"\x28" * 7)]])
def test_two_that_were_not_there_at_power_on_are_found_later(at_first):
    house = Glasshouse({code: memory(0x0191) for code in at_first})
    house.run(15_000)
    house.bench.thermometers = {HIGH: memory(0x00A2), LOW: memory(0x0191)}
    assert house.run(20_000) == [2506, 1013]


def test_two_that_are_found_are_not_looked_for_again_so_that_they_cannot_change_places():
    house = Glasshouse({HIGH: memory(0x00A2), LOW: memory(0x0191)})
    house.run(2500)
    lower = with_crc(bytes.fromhex("28 00 00 00 00 00 00"))
    house.bench.thermometers = {HIGH: memory(0x00A2), lower: memory(0x0191)}
    assert house.run(60_000) == [NO_READING, 1013]


def test_the_search_is_slow_paced_and_its_steps_are_short():
    house = Glasshouse({LOW: memory(0x0191)})
    moves, resets = [], []
    for name, log in (("readbit", moves), ("writebit", moves), ("writebyte", moves), ("reset", resets)):
        act = getattr(house.bus, name)
        setattr(house.bus, name, lambda *value, act=act, log=log: (log.append(1), act(*value))[1])
    for _ in range(6000):
        moves.clear()
        house.run(10)
        assert len(moves) <= 12
    assert 4 <= len(resets) <= 7


@given(
    codes=st.sets(st.binary(min_size=7, max_size=7), min_size=1, max_size=4),
)
def test_the_search_finds_every_code_on_the_line(codes):
    bench = Bench()
    bench.thermometers = {with_crc(code): b"" for code in codes}
    search = OneWireSearch(OneWireBus(bench))
    search.begin()
    for _ in range(4 * 18 + 1):
        if search.go_on():
            break
    assert {bytes(code) for code in search.codes[: search.found]} == set(bench.thermometers)


@pytest.mark.parametrize("noise", [0, 1])
def test_a_line_that_is_stuck_ends_the_search(noise):
    bench = Bench()
    bench.thermometers = {LOW: b""}
    bus = OneWireBus(bench)
    bus.readbit = lambda: noise
    search = OneWireSearch(bus)
    search.begin()
    assert any(search.go_on() for _ in range(4 * 18 + 1))
    assert [code for code in search.codes[: search.found] if code[0] == 0x28] == []
