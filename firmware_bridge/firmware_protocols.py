"""What the firmware expects of the parts around it, for readers and type checkers on the host.

The board itself never loads this file: MicroPython takes any object that has these methods.
"""

from __future__ import annotations

from typing import Protocol


class Hal(Protocol):
    """Pins and converters of one board. A reading that cannot be had is `registers.NO_READING`."""

    def motor_start(self, channel: int, count: int, counts_per_s: int) -> None:
        """Turn one motor; the hardware itself stops after exactly `count` counts."""
        ...

    def motor_back(self, channel: int, count: int, counts_per_s: int) -> None:
        """Turn one motor backwards; the hardware itself stops after exactly `count` counts."""
        ...

    def motor_count(self) -> int:
        """Give the counts turned since the last start, either way; it stays when the motor has stopped."""
        ...

    def motor_stop(self) -> None:
        """Stop whatever turns, at once; harmless when nothing does."""
        ...

    def set_valve(self, on: bool) -> None:
        """Drive the fill valve."""
        ...

    def set_enable(self, on: bool) -> None:
        """Drive the enable that feeds every relay of the host."""
        ...

    def high_float(self) -> bool:
        """Say whether the board's own high float is lifted (or its wire cut)."""
        ...

    def leak(self) -> bool:
        """Say whether the leak contact is wet (or its wire cut)."""
        ...

    def reset_pressed(self) -> bool:
        """Say whether the local reset button is down."""
        ...

    def read_ph_decimv(self) -> int:
        """Electrode voltage, 0.1 mV."""
        ...

    def read_second_ph_decimv(self) -> int:
        """Voltage of the second electrode, 0.1 mV; NO_READING where none is fitted."""
        ...

    def read_ec_us_cm(self) -> int:
        """Conductivity, µS/cm."""
        ...

    def read_tank_centic(self) -> int:
        """Tank temperature, 0.01 °C."""
        ...

    def read_supply_centic(self) -> int:
        """Supply temperature, 0.01 °C."""
        ...

    def read_level_decimm(self) -> int:
        """Level above the tank's floor, 0.1 mm."""
        ...

    def read_flow_pulses(self) -> int:
        """Pulses of the flow meter since boot, never negative; a negative number fails the self-test."""
        ...

    def read_scale_g(self, line: int) -> int:
        """All that stands on the scale of a data line, g, not older than 1 s; asked in every round."""
        ...


class RegisterStore(Protocol):
    """Registers behind the Modbus server. Empty bytes or an exception code above 0 mean "no"."""

    def input_words(self, address: int, count: int) -> bytes | bytearray:
        """Give `count` input registers in wire order; empty when there are none at that address."""
        ...

    def holding_words(self, address: int, count: int) -> bytes | bytearray:
        """Give `count` holding registers in wire order; empty when there are none at that address."""
        ...

    def write_word(self, address: int, value: int) -> int:
        """Write one register; give 0 or the exception code."""
        ...

    def write_words(self, address: int, words: bytes) -> int:
        """Write several registers given in wire order; give 0 or the exception code."""
        ...


class Storage(Protocol):
    """Two small files, slots 0 and 1, that outlive a power cut."""

    def load(self, slot: int) -> bytes:
        """Give a slot's bytes; empty when it cannot be read."""
        ...

    def save(self, slot: int, data: bytes) -> None:
        """Replace a slot; it is safe when this returns. Raises OSError."""
        ...


class PulseHardware(Protocol):
    """Pulse generator, edge counter and driver decoder. A pace is a number that only the hardware knows."""

    def pace(self, counts_per_s: int) -> int:
        """Give the pace for a speed."""
        ...

    def select(self, channel: int, backwards: bool) -> None:
        """Address and enable one channel's driver; none is enabled while address and direction change."""
        ...

    def begin(self, pulses: int, pace: int) -> None:
        """Start the edge counter anew and give exactly so many pulses."""
        ...

    def change_pace(self, pace: int) -> None:
        """Go on at another pace."""
        ...

    def edges(self) -> int:
        """Give the rising edges since `begin`; -1 when the counter does not answer."""
        ...

    def cease(self) -> None:
        """End the pulses at once and enable no driver."""
        ...


class OneWireLine(Protocol):
    """A one-wire line, byte by byte or bit by bit."""

    def reset(self) -> bool:
        """Reset the line; say whether anybody is there."""
        ...

    def writebyte(self, value: int) -> None:
        """Write one byte."""
        ...

    def readbyte(self) -> int:
        """Read one byte."""
        ...

    def writebit(self, value: int) -> None:
        """Write one bit."""
        ...

    def readbit(self) -> int:
        """Read one bit."""
        ...


class InputLine(Protocol):
    """An input pin."""

    def value(self) -> int:
        """Give its level, 0 or 1."""
        ...


class OutputLine(Protocol):
    """An output pin."""

    def value(self, level: int) -> None:
        """Drive it to 0 or 1."""
        ...


class Converter(Protocol):
    """An analogue input."""

    def read_u16(self) -> int:
        """Give its voltage as a share of full scale, 0 to 65535."""
        ...


class ClockPulse(Protocol):
    """One short pulse on a clock line."""

    def __call__(self) -> None:
        """Give it: high, low, never longer than a few microseconds."""
        ...
