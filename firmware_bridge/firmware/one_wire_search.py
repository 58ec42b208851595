"""The search for the codes on a one-wire line, a few bits a call, so that no round waits for it.

All parts on the line tell one bit of their code and its complement at once; where both read 0 they differ,
and the bit that is written back says which of them go on ("1-Wire search algorithm", application note 187,
from memory). What a code means is not known here.
"""

# mypy reads the import below, the board never does: MicroPython has no `typing`.
TYPE_CHECKING = False
if TYPE_CHECKING:
    from firmware_bridge.firmware_protocols import OneWireLine

_SEARCH = 0xF0
_BITS = 64
_BITS_A_CALL = 4
MOST_CODES = 4


class OneWireSearch:
    """`codes` has room for four; the first `found` of them are there. A fifth part ends the search."""

    def __init__(self, line: "OneWireLine") -> None:
        self._line = line
        self.codes = [bytearray(8) for _ in range(MOST_CODES)]
        self.found = 0
        self._last = bytearray(8)
        self._step = 0
        self._bit = 0
        # Where two codes parted last, and where they part on the present way; -1 nowhere.
        self._parted = -1
        self._parting = -1

    def begin(self) -> None:
        """Start anew."""
        self.found = 0
        self._step = 0
        self._parted = -1

    def go_on(self) -> bool:
        """Do the next small thing, about 1 ms; True when all is found or nobody answers. Uses no memory."""
        step = self._step
        self._step += 1
        if step == 0:
            self._bit = 0
            self._parting = -1
            return not self._line.reset()
        if step == 1:
            self._line.writebyte(_SEARCH)
            return False
        for _ in range(_BITS_A_CALL):
            if not self._take_bit():
                self.found = 0
                return True
        return self._bit == _BITS and self._end_code()

    def _take_bit(self) -> bool:
        """Follow one bit; False when nobody answers any more."""
        line, at = self._line, self._bit
        byte, mask = at >> 3, 1 << (at & 7)
        bit = line.readbit()
        complement = line.readbit()
        if bit and complement:
            return False
        if not bit and not complement:
            if at == self._parted:
                bit = 1
            elif at < self._parted:
                bit = 1 if self._last[byte] & mask else 0
            if not bit:
                self._parting = at
        if bit:
            self._last[byte] |= mask
        else:
            self._last[byte] &= 0xFF ^ mask
        line.writebit(bit)
        self._bit = at + 1
        return True

    def _end_code(self) -> bool:
        code = self.codes[self.found]
        for index in range(8):
            code[index] = self._last[index]
        self.found += 1
        self._step = 0
        self._parted = self._parting
        return self._parted < 0 or self.found == MOST_CODES
