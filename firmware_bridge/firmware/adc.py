"""One analogue input as a voltage: the mean of sixteen readings. No pins here."""

# mypy reads the import below, the board never does: MicroPython has no `typing`.
TYPE_CHECKING = False
if TYPE_CHECKING:
    from firmware_bridge.firmware_protocols import Converter

_READS = 16
# Sixteen readings of 12 bits, added and cut to 14.
_TOP = 16380
_TOP_DECIMV = 33000


def adc_decimv(converter: "Converter") -> int:
    """Give the mean, 0.1 mV, halves rounded up; allocates nothing."""
    total = 0
    for _ in range(_READS):
        total += converter.read_u16() >> 4
    return ((total >> 2) * _TOP_DECIMV + _TOP // 2) // _TOP
