import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware_bridge.firmware.board_file import BAUDS, pack, unpack
from firmware_bridge.firmware.front_ends import FrontEnds
from firmware_bridge.firmware.limits import (
    LONGEST_LEASE_MS,
    MOST_ANTI_DRIP,
    MOST_COUNTS,
    MOST_COUNTS_PER_S,
    Limits,
)
from firmware_bridge.firmware.modbus import crc16

ENDS = (1500, 3000, 0, 3000, 6000, 500, 3000, 9000, 1)
PACKED = pack(17, 115_200, Limits((1000, 900), (1500, 1400), (500, 400), 60_000, 90_000), FrontEnds(*ENDS))

caps = st.integers(1, MOST_COUNTS)


def test_the_file_has_each_number_at_its_place():
    """Layout 3, put together by hand: the file of a board must mean the same to every later host."""
    limits = Limits(
        (0x0102, 0x0304), (0x0506, 0x0708), (0x0A, 0x0B), 0x0C0D, 0x0E0F, 0x0111, 0x00212223, (9, 16)
    )
    by_hand = bytes.fromhex(
        "54414E4B 03 11 00002580 02 00000C0D 00000E0F 0111 00212223"
        "00000102 00000506 000A 09"
        "00000304 00000708 000B 10"
        "05DC 0BB8 0000 0BB8 1770 01F4 0BB8 2328 0001"
    )
    packed = pack(17, 9600, limits, FrontEnds(1500, 3000, 0, 3000, 6000, 500, 3000, 9000, 1))
    assert packed[:-2] == by_hand
    # CRC-16 of the Modbus serial line, high byte first here.
    assert crc16(by_hand + packed[:-3:-1]) == 0
    assert unpack(packed[:4] + bytes((1,)) + packed[5:]) is None


@given(
    data=st.data(), channels=st.integers(1, 16), server_id=st.integers(1, 247), baud=st.sampled_from(BAUDS)
)
def test_everything_that_goes_in_comes_out(data, channels, server_id, baud):
    def entries(values):
        return tuple(data.draw(st.lists(values, min_size=channels, max_size=channels)))

    valve_cap_ms = data.draw(caps)
    limits = Limits(
        entries(caps),
        entries(caps),
        entries(st.integers(1, MOST_COUNTS_PER_S)),
        valve_cap_ms,
        data.draw(st.integers(valve_cap_ms, (1 << 29) - 1)),
        data.draw(st.integers(1, LONGEST_LEASE_MS)),
        data.draw(st.integers(1, 86_400_000)),
        entries(st.integers(0, MOST_ANTI_DRIP)),
    )
    found = unpack(pack(server_id, baud, limits, FrontEnds(*ENDS)))
    assert found is not None
    assert (found.server_id, found.baud) == (server_id, baud)
    assert vars(found.limits) == vars(limits)
    assert vars(found.front_ends) == vars(FrontEnds(*ENDS))


@pytest.mark.parametrize("bit", range(8 * len(PACKED)))
def test_no_single_altered_bit_goes_unnoticed(bit):
    altered = bytearray(PACKED)
    altered[bit // 8] ^= 1 << bit % 8
    assert unpack(bytes(altered)) is None


@pytest.mark.parametrize("size", range(len(PACKED)))
def test_no_torn_file_goes_unnoticed(size):
    assert unpack(PACKED[:size]) is None


def test_a_file_with_something_behind_it_is_not_taken():
    assert unpack(PACKED + b"\x00") is None


@pytest.mark.parametrize("content", [b"", b"\x00" * len(PACKED), b"\xff" * len(PACKED)])
def test_an_erased_file_is_not_taken(content):
    assert unpack(content) is None


@pytest.mark.parametrize(
    ("server_id", "baud", "limits", "ends"),
    [
        (0, 115_200, Limits((1,), (1,), (1,), 1, 1), ENDS),
        (248, 115_200, Limits((1,), (1,), (1,), 1, 1), ENDS),
        (1, 300, Limits((1,), (1,), (1,), 1, 1), ENDS),
        (1, 115_200, Limits((0,), (1,), (1,), 1, 1), ENDS),
        (1, 115_200, Limits((), (), (), 1, 1), ENDS),
        (1, 115_200, Limits((1,), (1,), (1,), 1, 1), (*ENDS[:-2], 0, 0)),
    ],
)
def test_settings_with_which_no_board_could_start_are_not_packed(server_id, baud, limits, ends):
    with pytest.raises(ValueError, match="unsound"):
        pack(server_id, baud, limits, FrontEnds(*ends))


def test_a_sound_crc_does_not_make_unsound_settings_sound():
    from firmware_bridge.firmware.modbus import crc16

    body = bytearray(PACKED[:-2])
    body[5] = 0
    assert unpack(bytes(body) + crc16(body).to_bytes(2, "big")) is None
    body[5] = 17
    assert unpack(bytes(body) + crc16(body).to_bytes(2, "big")) is not None


@pytest.mark.parametrize(
    "limits",
    [
        Limits((MOST_COUNTS + 1,), (1000,), (500,), 60_000, 60_000),
        Limits((1000,), (MOST_COUNTS + 1,), (500,), 60_000, 60_000),
        Limits((1000,), (1000,), (MOST_COUNTS_PER_S + 1,), 60_000, 60_000),
        Limits((1000,), (1000,), (500,), 60_000, 60_000, lease_ms=LONGEST_LEASE_MS + 1),
    ],
    ids=["a dose too long for the pulse counter", "a night too long for it", "too fast", "too long a lease"],
)
def test_limits_that_the_board_cannot_keep_go_into_no_file(limits):
    with pytest.raises(ValueError, match="unsound"):
        pack(17, 115_200, limits, FrontEnds(*ENDS))
