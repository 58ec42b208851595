import pytest

from firmware_bridge.firmware.modbus import crc16, framed


def bitwise_crc(data: bytes) -> int:
    """The procedure of Modbus over Serial Line V1.02 §6.2.2, bit by bit, written apart from the table."""
    register = 0xFFFF
    for byte in data:
        register ^= byte
        for _ in range(8):
            lost = register & 1
            register >>= 1
            if lost:
                register ^= 0xA001
    return register


def test_crc_of_the_check_string():
    """Check value of CRC-16/MODBUS as computed with crcmod (general library)."""
    assert crc16(b"123456789") == 0x4B37


def test_crc_of_the_standards_own_example():
    """Modbus over Serial Line V1.02 §6.2.2: frame 02 07 has the CRC 0x1241, sent low byte first."""
    assert crc16(bytes.fromhex("0207")) == 0x1241
    assert framed(bytes.fromhex("0207")) == bytes.fromhex("02074112")


@pytest.mark.parametrize("length", [0, 1, 2, 7, 8, 61, 254])
def test_table_agrees_with_the_bit_by_bit_procedure(length):
    data = bytes((17 * n * n + length) & 0xFF for n in range(length))
    assert crc16(data) == bitwise_crc(data)


def test_a_frame_with_its_crc_leaves_nothing():
    assert crc16(framed(b"\x01\x04\x00\x00\x00\x1a")) == 0
