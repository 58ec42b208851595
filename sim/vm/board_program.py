"""What runs in the MicroPython VM around the firmware: the real firmware, between two channels. No physics.

`control` takes lines in virtual time: what the pins read now, and when. `arrived` and `turn` take the bytes
of the serial line in real time. It runs in MicroPython; on the host only type checkers read it.
"""

import binascii
import sys

from firmware_bridge.firmware.framer import Framer
from firmware_bridge.firmware.limits import Limits
from firmware_bridge.firmware.node import Node
from firmware_bridge.firmware.station import Station
from firmware_bridge.registers import NO_READING, SCALE_LINES


class PushedPins:
    """The board's pins as last told; `calls` gathers what the firmware does to them, in order."""

    def __init__(self) -> None:
        self.calls: list[str] = []
        self._high = 0
        self._wet = 0
        self._reset = 0
        self._turned = 0
        self._readings = [NO_READING, NO_READING, NO_READING, NO_READING, NO_READING, 0, NO_READING]
        self._scales_g = [NO_READING] * SCALE_LINES

    def push(self, words: list[str]) -> None:
        """Take three contacts, the counts turned, seven readings, and the scales when they have changed."""
        numbers = [int(word) for word in words]
        self._high, self._wet, self._reset, self._turned = numbers[:4]
        self._readings = numbers[4:11]
        if len(numbers) > 11:
            self._scales_g = numbers[11:]

    def motor_start(self, channel: int, count: int, counts_per_s: int) -> None:
        """Note one counted motion."""
        self._turned = 0
        self.calls.append(f"m{channel},{count},{counts_per_s}")

    def motor_back(self, channel: int, count: int, counts_per_s: int) -> None:
        """Note one counted motion backwards."""
        self._turned = 0
        self.calls.append(f"b{channel},{count},{counts_per_s}")

    def motor_count(self) -> int:
        """Give the counts turned since the start."""
        return self._turned

    def motor_stop(self) -> None:
        """Note a stop."""
        self.calls.append("s")

    def set_valve(self, on: bool) -> None:
        """Note the fill valve."""
        self.calls.append("v1" if on else "v0")

    def set_enable(self, on: bool) -> None:
        """Note the enable."""
        self.calls.append("e1" if on else "e0")

    def high_float(self) -> bool:
        """Tell whether the board's float is lifted."""
        return self._high != 0

    def leak(self) -> bool:
        """Tell whether the leak contact is wet."""
        return self._wet != 0

    def reset_pressed(self) -> bool:
        """Tell whether the local reset button is down."""
        return self._reset != 0

    def read_ph_decimv(self) -> int:
        """Electrode voltage, 0.1 mV."""
        return self._readings[0]

    def read_ec_us_cm(self) -> int:
        """Conductivity, µS/cm."""
        return self._readings[1]

    def read_tank_centic(self) -> int:
        """Tank temperature, 0.01 °C."""
        return self._readings[2]

    def read_supply_centic(self) -> int:
        """Supply temperature, 0.01 °C."""
        return self._readings[3]

    def read_level_decimm(self) -> int:
        """Level, 0.1 mm."""
        return self._readings[4]

    def read_flow_pulses(self) -> int:
        """Flow meter pulses since boot."""
        return self._readings[5]

    def read_second_ph_decimv(self) -> int:
        """Voltage of the second electrode, 0.1 mV."""
        return self._readings[6]

    def read_scale_g(self, line: int) -> int:
        """All that stands on the scale of a data line, g."""
        return self._scales_g[line]


class PushedSlots:
    """The two slots of the board's record as told at its start; what is saved is told as a call."""

    def __init__(self, words: list[str], calls: PushedPins) -> None:
        self._slots = [b"" if word == "-" else binascii.unhexlify(word) for word in words]
        self._pins = calls

    def load(self, slot: int) -> bytes:
        """Give a slot's bytes."""
        return self._slots[slot]

    def save(self, slot: int, data: bytes) -> None:
        """Replace a slot."""
        self._slots[slot] = data
        self._pins.calls.append(f"k{slot},{binascii.hexlify(data).decode()}")


def _numbers(word: str) -> tuple[int, ...]:
    return tuple([int(number) for number in word.split(",")])


class BoardProgram:
    """One board from its start; a restart is a new VM."""

    def __init__(self, words: list[str]) -> None:
        boot_id, ticks, server_id, silence_us = [int(word) for word in words[:4]]
        dose_caps, night_caps, speeds, anti_drip = [_numbers(word) for word in words[6:10]]
        valve_ms, valve_night_ms, lease_ms, night_ms = [int(word) for word in words[10:]]
        limits = Limits(
            dose_caps, night_caps, speeds, valve_ms, valve_night_ms, lease_ms, night_ms, anti_drip
        )
        self._pins = PushedPins()
        slots = PushedSlots(words[4:6], self._pins)
        self._node = Node(self._pins, limits, boot_id, server_id, storage=slots)
        self._station = Station(self._node, Framer(silence_us))
        self._ticks = ticks

    def control(self, line: str) -> str:
        """Do one line of the control channel; give the state and the calls since the last one."""
        words = line.split()
        if words[0] == "poll":
            self._ticks = int(words[1])
            self._pins.push(words[2:])
            self._node.poll(self._ticks)
        elif words[0] == "interpreter":
            version = sys.implementation.version
            return f"{sys.implementation.name} {version[0]}.{version[1]}.{version[2]}"
        return self.told()

    def told(self) -> str:
        """Give boot id, trips, high float, leak, running, valve open, enabled, dose id, and the calls."""
        node = self._node
        guard = node.guard
        state = [node.boot_id, guard.trips, guard.high_float, guard.leak, node.pumps.running]
        state += [node.valve.is_open, node.enabled, node.pumps.dose_id]
        calls = self._pins.calls
        self._pins.calls = []
        return " ".join([str(int(one)) for one in state] + calls)

    def arrived(self, hexed: str, now_us: int) -> None:
        """Take bytes that have just come in."""
        data = binascii.unhexlify(hexed)
        self._station.arrived(data, len(data), now_us)

    def turn(self, now_us: int) -> str:
        """Go once round; give the answer to a frame that has ended."""
        return binascii.hexlify(self._station.turn(now_us, self._ticks)).decode()
