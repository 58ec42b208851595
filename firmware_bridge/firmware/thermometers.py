"""Two one-wire thermometers with power leads of their own, read one byte a round. No `machine` here.

They answer to family code 28h: 9 bytes of memory, 1/16 °C, at most 750 ms to convert (data sheets of the
kind, from memory). Told apart by their 64-bit codes, looked up at power-on: of exactly two, the lower code in
byte order is the tank's, the higher one the supply's. Whoever changes one checks which is which. One alone,
or three, could be either and give no reading; then they are looked for again and again, at a slow pace and in
steps as short as all others. Two that were found are never exchanged for others without a restart.
"""

from firmware_bridge.firmware.one_wire_search import OneWireSearch
from firmware_bridge.firmware.ticks import ticks_diff
from firmware_bridge.registers import NO_READING

# mypy reads the import below, the board never does: MicroPython has no `typing`.
TYPE_CHECKING = False
if TYPE_CHECKING:
    from firmware_bridge.firmware_protocols import OneWireLine

_FAMILY = 0x28
_SKIP_CODE = 0xCC
_CONVERT = 0x44
_MATCH_CODE = 0x55
_READ_MEMORY = 0xBE
_CONVERT_MS = 800
_RETRY_MS = 1000
_SEARCH_EVERY_MS = 10_000
_MEMORY_BYTES = 9
# What stands in the memory after power-on until the first conversion: 85.0 °C.
_POWER_ON_RAW = 0x0550
# The configuration byte always ends in five ones and begins with a 0: a line stuck low is not taken for 0 °C.
_CONFIGURATION_MASK = 0x9F
_CONFIGURATION = 0x1F

_LAST_CODE_STEP = 9
_ASK_STEP = 10
_FIRST_READ_STEP = 11


def crc8(data: bytes | bytearray, count: int) -> int:
    """Give the one-wire CRC (x^8 + x^5 + x^4 + 1, reflected) of the first `count` bytes."""
    crc = 0
    for index in range(count):
        crc ^= data[index]
        for _ in range(8):
            crc = (crc >> 1) ^ 0x8C if crc & 1 else crc >> 1
    return crc


def centic(memory: bytes | bytearray) -> int:
    """Give the temperature in the nine bytes, 0.01 °C, halves rounded up; NO_READING for unsound ones."""
    if crc8(memory, 8) != memory[8] or memory[4] & _CONFIGURATION_MASK != _CONFIGURATION:
        return NO_READING
    raw = memory[0] | (memory[1] << 8)
    if raw == _POWER_ON_RAW:
        return NO_READING
    if raw >= 0x8000:
        raw -= 0x10000
    return (raw * 25 + 2) // 4


def _sound_codes(codes: list[bytearray]) -> list[bytes]:
    sound = [bytes(code) for code in codes if code[0] == _FAMILY and crc8(code, 7) == code[7]]
    return sorted(sound)


class Thermometers:
    """`centic[0]` is the tank's reading, `centic[1]` the supply's, as of the last conversion."""

    def __init__(self, line: "OneWireLine", codes: list[bytearray]) -> None:
        self._line = line
        self._codes = _sound_codes(codes)
        self._search = OneWireSearch(line)
        self._searching = False
        self._memory = bytearray(_MEMORY_BYTES)
        self._sensor = -1
        self._step = 0
        self._waiting = False
        self._since_ms = 0
        self._wait_ms = 0
        self.centic = [NO_READING, NO_READING]

    def attend(self, now_ms: int) -> None:
        """Do the next small thing on the line, about 1 ms at most; allocates nothing."""
        if self._waiting:
            if 0 <= ticks_diff(now_ms, self._since_ms) < self._wait_ms:
                return
            self._waiting = False
        if len(self._codes) != 2:
            self._look_for_them(now_ms)
        elif self._sensor < 0:
            self._convert(now_ms)
        else:
            self._read(now_ms)

    def _wait(self, now_ms: int, wait_ms: int) -> None:
        self._waiting = True
        self._since_ms = now_ms
        self._wait_ms = wait_ms

    def _look_for_them(self, now_ms: int) -> None:
        """Go on with the search; wait a while before every one, and let the pair that is found be read."""
        search = self._search
        if not self._searching:
            self._searching = True
            search.begin()
            self._wait(now_ms, _SEARCH_EVERY_MS)
        elif search.go_on():
            self._searching = False
            # One alone or nobody: nothing new is made, so that an empty line costs no memory.
            if search.found >= 2:
                self._codes = _sound_codes(search.codes[: search.found])

    def _convert(self, now_ms: int) -> None:
        """Let both convert at the same time: reset, skip code, convert."""
        step = self._step
        self._step += 1
        if step == 0:
            if not self._line.reset():
                self._lose(now_ms)
        elif step == 1:
            self._line.writebyte(_SKIP_CODE)
        else:
            self._line.writebyte(_CONVERT)
            self._step = 0
            self._sensor = 0
            self._wait(now_ms, _CONVERT_MS)

    def _read(self, now_ms: int) -> None:
        """Read one memory: reset, match code, its eight bytes, read memory, nine bytes."""
        step = self._step
        self._step += 1
        if step == 0:
            if not self._line.reset():
                self._lose(now_ms)
        elif step == 1:
            self._line.writebyte(_MATCH_CODE)
        elif step <= _LAST_CODE_STEP:
            self._line.writebyte(self._codes[self._sensor][step - 2])
        elif step == _ASK_STEP:
            self._line.writebyte(_READ_MEMORY)
        else:
            self._memory[step - _FIRST_READ_STEP] = self._line.readbyte()
            if self._step == _FIRST_READ_STEP + _MEMORY_BYTES:
                self._end_reading()

    def _end_reading(self) -> None:
        self.centic[self._sensor] = centic(self._memory)
        self._step = 0
        self._sensor = 1 if self._sensor == 0 else -1

    def _lose(self, now_ms: int) -> None:
        """Nobody answers on the line: no reading, and a new try later."""
        self.centic[0] = NO_READING
        self.centic[1] = NO_READING
        self._step = 0
        self._sensor = -1
        self._wait(now_ms, _RETRY_MS)
