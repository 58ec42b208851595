"""One small record that outlives a power cut: two slots, written in turn, each under a CRC. No meaning here.

Where the slots lie is the storage's business. A write that is cut off spoils its own slot only, and the other
one still holds the record before.
"""

import binascii
import struct

# mypy reads the import below, the board never does: MicroPython has no `typing`.
TYPE_CHECKING = False
if TYPE_CHECKING:
    from firmware_bridge.firmware_protocols import Storage

SLOTS = 2
_MAGIC = b"TKMY"
# Magic, number of this record.
_HEAD_FORMAT = ">4sI"
_CRC_FORMAT = ">I"
_HEAD_SIZE = 8
_CRC_SIZE = 4


def record(number: int, content: bytes) -> bytes:
    """Give a slot's bytes."""
    data = struct.pack(_HEAD_FORMAT, _MAGIC, number) + content
    return data + struct.pack(_CRC_FORMAT, binascii.crc32(data) & 0xFFFFFFFF)


def _number(data: bytes) -> int:
    """Give a sound slot's number; -1 when it is torn, altered or not there."""
    size = len(data) - _CRC_SIZE
    if size < _HEAD_SIZE or data[:4] != _MAGIC:
        return -1
    if struct.pack(_CRC_FORMAT, binascii.crc32(data[:size]) & 0xFFFFFFFF) != data[size:]:
        return -1
    number: int = struct.unpack(_HEAD_FORMAT, data[:_HEAD_SIZE])[1]
    return number


class TwoSlots:
    """The newest record of a storage, and the next one."""

    def __init__(self, storage: "Storage") -> None:
        self._storage = storage
        self._number = -1
        self._next_slot = 0

    def load(self) -> bytes:
        """Give what the newest sound slot says; empty when there is none."""
        content = b""
        for slot in range(SLOTS):
            data = self._storage.load(slot)
            number = _number(data)
            if number > self._number:
                self._number = number
                self._next_slot = 1 - slot
                content = data[_HEAD_SIZE:-_CRC_SIZE]
        return content

    def save(self, content: bytes) -> bool:
        """Write the next record over the older slot; False when the storage did not take it."""
        try:
            self._storage.save(self._next_slot, record(self._number + 1, content))
        except OSError:
            return False
        self._number += 1
        self._next_slot = 1 - self._next_slot
        return True
