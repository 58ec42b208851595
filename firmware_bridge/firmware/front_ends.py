"""From the converter's voltage to electrode voltage, conductivity and level, in whole numbers. No pins here.

The converter sees 0 to 3.3 V. A module that is off, shorted or open drives its line to a rail or past its own
span, and that is no reading. A module whose zero lies at 0 V cannot be told from a dead one at its low end.
"""

import struct

from firmware_bridge.firmware.modbus import crc16
from firmware_bridge.registers import NO_READING

FULL_SCALE_MV = 3300
_FULL_SCALE_DECIMV = 10 * FULL_SCALE_MV
# This near to a rail a module no longer follows what it measures (usual headroom of amplifiers, from memory).
_RAIL_DECIMV = 200
# Past an end of its span by this part of it (1/50) a module is still believed: offsets of the module.
_BEYOND_PART = 50
# pH 0 or 14 gives 414 mV at 25 °C, 497 mV at 85 °C (7 Nernst slopes); past this no electrode is connected.
_MOST_PH_DECIMV = 6000
_LEAST_GAIN_MILLI = 100
_MOST_GAIN_MILLI = 50000
# So that 33000 times a full value, and half a span, stay a small integer.
_MOST_FULL = 32000
_LEAST_SPAN_MV = 100

FRONT_ENDS_FORMAT = ">HHHHHHHHH"


class FrontEnds:
    """What the analogue modules give at two known points; a reading is the straight line through them.

    Args:
        ph_zero_mv: module's output at 0 mV of the electrode.
        ph_gain_milli: output per electrode voltage, thousandths, 100 to 50000.
        conductivity_zero_mv: output with a dry cell.
        conductivity_full_mv: output at the top of the range.
        conductivity_full_us_cm: that top, µS/cm.
        level_zero_mv: output with an empty tank.
        level_full_mv: output at the top of the range.
        level_full_decimm: that top, 0.1 mm above the floor.
        second_ph: 1 where a second pH module of the same kind stands behind the analogue switch, else 0.

    """

    def __init__(
        self,
        ph_zero_mv: int,
        ph_gain_milli: int,
        conductivity_zero_mv: int,
        conductivity_full_mv: int,
        conductivity_full_us_cm: int,
        level_zero_mv: int,
        level_full_mv: int,
        level_full_decimm: int,
        second_ph: int = 0,
    ) -> None:
        self.ph_zero_mv = ph_zero_mv
        self.ph_gain_milli = ph_gain_milli
        self.conductivity_zero_mv = conductivity_zero_mv
        self.conductivity_full_mv = conductivity_full_mv
        self.conductivity_full_us_cm = conductivity_full_us_cm
        self.level_zero_mv = level_zero_mv
        self.level_full_mv = level_full_mv
        self.level_full_decimm = level_full_decimm
        self.second_ph = second_ph

    def sound(self) -> bool:
        """Say whether every number makes sense."""
        return (
            0 <= self.ph_zero_mv <= FULL_SCALE_MV
            and _LEAST_GAIN_MILLI <= self.ph_gain_milli <= _MOST_GAIN_MILLI
            and _is_span(self.conductivity_zero_mv, self.conductivity_full_mv)
            and 0 < self.conductivity_full_us_cm <= _MOST_FULL
            and _is_span(self.level_zero_mv, self.level_full_mv)
            and 0 < self.level_full_decimm <= _MOST_FULL
            and 0 <= self.second_ph <= 1
        )

    def packed(self) -> bytes:
        """Give the numbers in the order of the arguments, big-endian; they must be sound."""
        return struct.pack(
            FRONT_ENDS_FORMAT,
            self.ph_zero_mv,
            self.ph_gain_milli,
            self.conductivity_zero_mv,
            self.conductivity_full_mv,
            self.conductivity_full_us_cm,
            self.level_zero_mv,
            self.level_full_mv,
            self.level_full_decimm,
            self.second_ph,
        )

    def checksum(self) -> int:
        """Give a CRC-16 over all numbers, by which the host knows them; 0 when they are unsound."""
        return crc16(self.packed()) if self.sound() else 0

    def ph_decimv(self, adc_decimv: int) -> int:
        """Give the electrode's voltage, 0.1 mV, halves rounded up, for 0.1 mV at the converter."""
        if not _RAIL_DECIMV <= adc_decimv <= _FULL_SCALE_DECIMV - _RAIL_DECIMV:
            return NO_READING
        gain = self.ph_gain_milli
        decimv = ((adc_decimv - 10 * self.ph_zero_mv) * 1000 + gain // 2) // gain
        return decimv if -_MOST_PH_DECIMV <= decimv <= _MOST_PH_DECIMV else NO_READING

    def conductivity_us_cm(self, adc_decimv: int) -> int:
        """Give the conductivity, µS/cm, halves rounded up, for 0.1 mV at the converter."""
        return _on_span(
            adc_decimv, self.conductivity_zero_mv, self.conductivity_full_mv, self.conductivity_full_us_cm
        )

    def level_decimm(self, adc_decimv: int) -> int:
        """Give the level, 0.1 mm above the floor, halves rounded up, for 0.1 mV at the converter."""
        return _on_span(adc_decimv, self.level_zero_mv, self.level_full_mv, self.level_full_decimm)


def _is_span(zero_mv: int, full_mv: int) -> bool:
    return zero_mv >= 0 and zero_mv + _LEAST_SPAN_MV <= full_mv <= FULL_SCALE_MV


def _on_span(adc_decimv: int, zero_mv: int, full_mv: int, full: int) -> int:
    """Scale what is above zero; a little below is nothing, past an end or at the top rail no reading."""
    span = 10 * (full_mv - zero_mv)
    above = adc_decimv - 10 * zero_mv
    beyond = span // _BEYOND_PART
    if not 0 <= adc_decimv <= _FULL_SCALE_DECIMV - _RAIL_DECIMV or not -beyond <= above <= span + beyond:
        return NO_READING
    return 0 if above <= 0 else (above * full + span // 2) // span
