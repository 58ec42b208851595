"""What this board may never exceed, whatever the host says. Only the numbers and their check live here."""

import struct

from firmware_bridge.firmware.modbus import crc16
from firmware_bridge.firmware.pin_plan import PULSES_PER_COUNT
from firmware_bridge.registers import MAX_CHANNELS, MAX_NUMBER

# That a lease is over is found in the next round of the board: together they stay below the 2 s allowed.
LONGEST_LEASE_MS = 1900
# The pulses of one motion stay a small integer.
MOST_ANTI_DRIP = 16
MOST_COUNTS = MAX_NUMBER // PULSES_PER_COUNT - MOST_ANTI_DRIP
# 500 000 pulses/s are past every motor; the pulse programs would still keep up.
MOST_COUNTS_PER_S = 5000
LONGEST_NIGHT_MS = 24 * 3600 * 1000


class Limits:
    """Caps of one board. One entry a channel in each of the three tuples.

    Args:
        dose_caps: counts in one dose.
        night_caps: counts in one night (see `Pumps`).
        max_counts_per_s: fastest motor speed.
        valve_cap_ms: longest single opening of the fill valve.
        valve_night_cap_ms: all its openings in one night together (see `Night`).
        lease_ms: longest silence of the host, 1 to 1900.
        night_ms: how long what has moved counts as moved in the same night.
        anti_drip: counts by which the rotor is turned back after a whole dose, 0 to 16; none given: 0.

    """

    def __init__(
        self,
        dose_caps: tuple[int, ...],
        night_caps: tuple[int, ...],
        max_counts_per_s: tuple[int, ...],
        valve_cap_ms: int,
        valve_night_cap_ms: int,
        lease_ms: int = LONGEST_LEASE_MS,
        night_ms: int = 12 * 3600 * 1000,
        anti_drip: tuple[int, ...] = (),
    ) -> None:
        self.dose_caps = dose_caps
        self.night_caps = night_caps
        self.max_counts_per_s = max_counts_per_s
        self.valve_cap_ms = valve_cap_ms
        self.valve_night_cap_ms = valve_night_cap_ms
        self.lease_ms = lease_ms
        self.night_ms = night_ms
        self.channels = len(dose_caps)
        self.anti_drip = anti_drip or (0,) * self.channels

    def sound(self) -> bool:
        """Say whether every number makes sense; a board with unsound limits stays off."""
        if not 0 < self.channels <= MAX_CHANNELS:
            return False
        for column in (self.night_caps, self.max_counts_per_s, self.anti_drip):
            if len(column) != self.channels:
                return False
        for cap in self.dose_caps + self.night_caps:
            if not 0 < cap <= MOST_COUNTS:
                return False
        for speed in self.max_counts_per_s:
            if not 0 < speed <= MOST_COUNTS_PER_S:
                return False
        for counts in self.anti_drip:
            if not 0 <= counts <= MOST_ANTI_DRIP:
                return False
        return (
            0 < self.valve_cap_ms <= self.valve_night_cap_ms <= MAX_NUMBER // 2
            and 0 < self.lease_ms <= LONGEST_LEASE_MS
            and 0 < self.night_ms <= LONGEST_NIGHT_MS
        )

    def checksum(self) -> int:
        """Give a CRC-16 over all limits, by which the host knows them; 0 when they are unsound."""
        if not self.sound():
            return 0
        data = struct.pack(
            ">HIIHI",
            self.channels,
            self.valve_cap_ms,
            self.valve_night_cap_ms,
            self.lease_ms,
            self.night_ms,
        )
        for channel in range(self.channels):
            data += struct.pack(
                ">IIHB",
                self.dose_caps[channel],
                self.night_caps[channel],
                self.max_counts_per_s[channel],
                self.anti_drip[channel],
            )
        return crc16(data)
