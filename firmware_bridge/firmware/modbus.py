"""Modbus RTU server: frames in, frames out (Modbus Application Protocol V1.1b3, Serial Line V1.02).

Serves functions 03, 04, 06 and 16. What the registers mean is the store's business; when a frame ends on the
wire is the serial port's. Broadcasts are not served: a command without an answer proves nothing.
"""

# mypy reads the import below, the board never does: MicroPython has no `typing`.
TYPE_CHECKING = False
if TYPE_CHECKING:
    from firmware_bridge.firmware_protocols import RegisterStore

ILLEGAL_FUNCTION = 1
ILLEGAL_ADDRESS = 2
ILLEGAL_VALUE = 3
DEVICE_FAILURE = 4

READ_HOLDING = 3
READ_INPUT = 4
WRITE_SINGLE = 6
WRITE_MULTIPLE = 16

MOST_READ_WORDS = 125
MOST_WRITE_WORDS = 123
SHORTEST_FRAME = 4
LONGEST_FRAME = 256


def _crc_table() -> tuple[int, ...]:
    table = []
    for byte in range(256):
        crc = byte
        for _ in range(8):
            crc = (crc >> 1) ^ 0xA001 if crc & 1 else crc >> 1
        table.append(crc)
    return tuple(table)


CRC_TABLE = _crc_table()


def crc16(data: bytes | bytearray | memoryview) -> int:
    """Give the CRC of Serial Line V1.02 §6.2.2; over a frame with its CRC (low byte first) it is 0."""
    crc = 0xFFFF
    table = CRC_TABLE
    for byte in data:
        crc = (crc >> 8) ^ table[(crc ^ byte) & 0xFF]
    return crc


def framed(body: bytes) -> bytes:
    """Add the CRC, low byte first."""
    crc = crc16(body)
    return body + bytes((crc & 0xFF, crc >> 8))


def _is_reply(frame: bytes, size: int) -> bool:
    """Say whether this can only be an answer, such as the server's own on a line that echoes.

    Exceptions, and answers to functions 03, 04 and 16 (Modbus V1.1b3 section 6). Answered, they would go
    round for ever. An answer to function 06 looks like its request, and is known by its time (`station.py`).
    """
    function = frame[1]
    if function in (READ_INPUT, READ_HOLDING):
        return size != 8 and size == 5 + frame[2]
    return function >= 0x80 or (function == WRITE_MULTIPLE and size == 8)


class Server:
    """Answer frames for one server id (1 to 247) out of a register store."""

    def __init__(self, server_id: int, store: "RegisterStore") -> None:
        self._server_id = server_id
        self._store = store

    def answer(self, frame: bytes) -> bytes:
        """Give the reply; empty when the frame is damaged or meant for another."""
        size = len(frame)
        if size < SHORTEST_FRAME or size > LONGEST_FRAME or frame[0] != self._server_id or crc16(frame):
            return b""
        function = frame[1]
        if _is_reply(frame, size):
            return b""
        if function in (READ_INPUT, READ_HOLDING):
            return self._read(frame, size)
        if function == WRITE_MULTIPLE:
            return self._write_multiple(frame, size)
        if function == WRITE_SINGLE:
            return self._write_single(frame, size)
        return self._exception(function, ILLEGAL_FUNCTION)

    def _read(self, frame: bytes, size: int) -> bytes:
        function = frame[1]
        if size != 8:
            return self._exception(function, ILLEGAL_VALUE)
        address = (frame[2] << 8) | frame[3]
        count = (frame[4] << 8) | frame[5]
        if not 0 < count <= MOST_READ_WORDS:
            return self._exception(function, ILLEGAL_VALUE)
        if function == READ_INPUT:
            words = self._store.input_words(address, count)
        else:
            words = self._store.holding_words(address, count)
        if not words:
            return self._exception(function, ILLEGAL_ADDRESS)
        return framed(bytes((self._server_id, function, 2 * count)) + words)

    def _write_single(self, frame: bytes, size: int) -> bytes:
        if size != 8:
            return self._exception(WRITE_SINGLE, ILLEGAL_VALUE)
        code = self._store.write_word((frame[2] << 8) | frame[3], (frame[4] << 8) | frame[5])
        return self._exception(WRITE_SINGLE, code) if code else bytes(frame)

    def _write_multiple(self, frame: bytes, size: int) -> bytes:
        if size < 9:
            return self._exception(WRITE_MULTIPLE, ILLEGAL_VALUE)
        count = (frame[4] << 8) | frame[5]
        if not 0 < count <= MOST_WRITE_WORDS or frame[6] != 2 * count or size != 9 + 2 * count:
            return self._exception(WRITE_MULTIPLE, ILLEGAL_VALUE)
        code = self._store.write_words((frame[2] << 8) | frame[3], frame[7 : size - 2])
        return self._exception(WRITE_MULTIPLE, code) if code else framed(bytes(frame[:6]))

    def _exception(self, function: int, code: int) -> bytes:
        return framed(bytes((self._server_id, function | 0x80, code)))
