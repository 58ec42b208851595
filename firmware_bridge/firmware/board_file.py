"""The one settings file of the board: written by the host when it installs, read by the board at power-on.

Server id, line speed, limits and front ends under one CRC. No file is opened here.
"""

import struct

from firmware_bridge.firmware.front_ends import FRONT_ENDS_FORMAT, FrontEnds
from firmware_bridge.firmware.limits import Limits
from firmware_bridge.firmware.modbus import crc16

BOARD_FILE = "board.bin"
BAUDS = (9600, 19200, 38400, 57600, 115200)
# How a board without a sound file answers, only to say so: it stays off.
FALLBACK_SERVER_ID = 1
FALLBACK_BAUD = 115200

_MAGIC = b"TANK"
# Raise it with every change of the layout: a board never guesses at a file of another one.
_LAYOUT = 3
# Magic, layout, server id, baud, channels, valve cap ms, valve's cap of a night ms, lease ms, night ms.
_HEAD_FORMAT = ">4sBBIBIIHI"
# Dose cap, night cap, fastest speed, counts turned back of one channel.
_CHANNEL_FORMAT = ">IIHB"
_CRC_FORMAT = ">H"


class BoardFile:
    """What one board is told to be."""

    def __init__(self, server_id: int, baud: int, limits: Limits, front_ends: FrontEnds) -> None:
        self.server_id = server_id
        self.baud = baud
        self.limits = limits
        self.front_ends = front_ends

    def sound(self) -> bool:
        """Say whether a board may start with it."""
        return (
            1 <= self.server_id <= 247
            and self.baud in BAUDS
            and self.limits.sound()
            and self.front_ends.sound()
        )


def pack(server_id: int, baud: int, limits: Limits, front_ends: FrontEnds) -> bytes:
    """Give the file's bytes.

    Raises:
        ValueError: if a board could not start with these settings.

    """
    if not BoardFile(server_id, baud, limits, front_ends).sound():
        raise ValueError("the board's settings are unsound")
    data = struct.pack(
        _HEAD_FORMAT,
        _MAGIC,
        _LAYOUT,
        server_id,
        baud,
        limits.channels,
        limits.valve_cap_ms,
        limits.valve_night_cap_ms,
        limits.lease_ms,
        limits.night_ms,
    )
    for channel in range(limits.channels):
        data += struct.pack(
            _CHANNEL_FORMAT,
            limits.dose_caps[channel],
            limits.night_caps[channel],
            limits.max_counts_per_s[channel],
            limits.anti_drip[channel],
        )
    data += front_ends.packed()
    return data + struct.pack(_CRC_FORMAT, crc16(data))


def unpack(data: bytes) -> "BoardFile | None":
    """Give what the bytes say; None when they are torn, altered, of another layout or unsound."""
    head_size = struct.calcsize(_HEAD_FORMAT)
    if len(data) < head_size or data[:5] != _MAGIC + bytes((_LAYOUT,)):
        return None
    head = struct.unpack(_HEAD_FORMAT, data[:head_size])
    _, _, server_id, baud, channels, valve_cap_ms, valve_night_cap_ms, lease_ms, night_ms = head
    channel_size = struct.calcsize(_CHANNEL_FORMAT)
    ends_at = head_size + channels * channel_size
    crc_at = ends_at + struct.calcsize(FRONT_ENDS_FORMAT)
    if len(data) != crc_at + 2 or struct.unpack(_CRC_FORMAT, data[crc_at:])[0] != crc16(data[:crc_at]):
        return None
    rows = [
        struct.unpack(_CHANNEL_FORMAT, data[at : at + channel_size])
        for at in range(head_size, ends_at, channel_size)
    ]
    limits = Limits(
        tuple([row[0] for row in rows]),
        tuple([row[1] for row in rows]),
        tuple([row[2] for row in rows]),
        valve_cap_ms,
        valve_night_cap_ms,
        lease_ms,
        night_ms,
        tuple([row[3] for row in rows]),
    )
    front_ends = FrontEnds(*struct.unpack(FRONT_ENDS_FORMAT, data[ends_at:crc_at]))
    board_file = BoardFile(server_id, baud, limits, front_ends)
    return board_file if board_file.sound() else None
