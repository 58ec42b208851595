"""The board as the controller sees it: registers decoded to an image, a request encoded to one command.

No frames (see `link.py`), no judgement: what cannot be read is None, what is not asked for is off.
"""

from __future__ import annotations

import struct
from contextlib import suppress
from dataclasses import dataclass
from functools import lru_cache

from controller.run.image import BoardImage, Motion, Trip
from controller.run.request import Request
from firmware_bridge import registers as reg
from firmware_bridge.firmware.modbus import READ_INPUT
from firmware_bridge.link import LinkError, Master, Transport

_TRIPS = {
    reg.TRIP_LEASE: Trip.LEASE,
    reg.TRIP_HIGH_FLOAT: Trip.HIGH_FLOAT,
    reg.TRIP_LEAK: Trip.LEAK,
    reg.TRIP_VALVE_TIME: Trip.VALVE_TIME,
    reg.TRIP_DOSE_CAP: Trip.DOSE_CAP,
    reg.TRIP_NIGHT_CAP: Trip.NIGHT_CAP,
    reg.TRIP_COMMAND: Trip.COMMAND,
    reg.TRIP_SELF_TEST: Trip.SELF_TEST,
}
# Unconfirmed writes after which no earlier frame can still be under way.
LEASE_LEAD = 1000
_scan_words = struct.Struct(reg.SCAN_FORMAT)
_command_words = struct.Struct(reg.COMMAND_FORMAT)


@dataclass(frozen=True, slots=True)
class ChannelMotion:
    """What one channel has done since the board booted. `last_dose_id` 0: nothing."""

    channel: int
    last_dose_id: int
    count_done: int
    counts_since_boot: int


@dataclass(frozen=True, slots=True)
class BoardIdentity:
    """What the board says it is. Versions are major * 256 + minor."""

    map_id: int
    firmware_version: int
    channels: int
    limits_checksum: int
    lease_ms: int
    valve_cap_ms: int
    front_ends_checksum: int
    self_tests: int


@lru_cache(maxsize=256)
def _trip_set(bits: int) -> frozenset[Trip]:
    return frozenset(trip for code, trip in _TRIPS.items() if bits >> (code - 1) & 1)


def _scaled(raw: int, divisor: int) -> float | None:
    return None if raw == reg.NO_READING else raw / divisor


class BoardLink:
    """Read and command one board. Every call takes a bounded number of exchanges; none raises LinkError."""

    def __init__(self, transport: Transport, server_id: int) -> None:
        self._master = Master(transport, server_id)
        self._scan_request = self._master.read_request(READ_INPUT, reg.IN_MAP_ID, reg.SCAN_WORDS)
        self._boot_id = 0
        self._lease = 0

    def read(self) -> BoardImage | None:
        """Take one image; None when the board is silent, garbled, or not a board of this map."""
        try:
            fields = _scan_words.unpack(self._master.read(self._scan_request))
        except LinkError:
            return None
        if fields[0] != reg.MAP_ID:
            return None
        self._note(boot_id=fields[1], lease=fields[3])
        return _image(fields)

    def write(self, outputs: Request) -> bool:
        """Send one command, which also renews the lease; False unless the board confirmed it.

        Raises ValueError for a number that no register can hold.
        """
        if self._boot_id == 0 and self.read() is None:
            return False
        self._lease = (self._lease + 1) & 0xFFFF
        words = _encode(outputs, self._lease, self._boot_id)
        try:
            self._master.write_block(reg.HOLD_LEASE, words)
        except LinkError:
            return False
        return True

    def renew(self) -> None:
        """Renew the lease of the last command; when that fails the board's lease runs out, as it should."""
        self._lease = (self._lease + 1) & 0xFFFF
        with suppress(LinkError):
            self._master.write_single(reg.HOLD_LEASE, self._lease)

    def identity(self) -> BoardIdentity | None:
        """Read what the board is; None when it does not answer."""
        try:
            words = self._master.read_input(reg.IN_IDENTITY, reg.IDENTITY_WORDS)
        except LinkError:
            return None
        return BoardIdentity(*struct.unpack(reg.IDENTITY_FORMAT, words))

    def channel_motion(self, channel: int) -> ChannelMotion | None:
        """Read what one channel has done; None when the board does not answer."""
        if not 0 <= channel < reg.MAX_CHANNELS:
            raise ValueError(f"channel {channel} is not 0 to {reg.MAX_CHANNELS - 1}")
        try:
            words = self._master.read_input(reg.IN_CHANNELS + channel * reg.CHANNEL_WORDS, reg.CHANNEL_WORDS)
        except LinkError:
            return None
        return ChannelMotion(channel, *struct.unpack(reg.CHANNEL_FORMAT, words))

    def read_motions(self) -> tuple[ChannelMotion, ...] | None:
        """Read what every channel has done, for recovery; None when the board does not answer."""
        try:
            words = self._master.read_input(reg.IN_CHANNELS, reg.MAX_CHANNELS * reg.CHANNEL_WORDS)
        except LinkError:
            return None
        entries = struct.iter_unpack(reg.CHANNEL_FORMAT, words)
        return tuple(ChannelMotion(channel, *entry) for channel, entry in enumerate(entries))

    def _note(self, boot_id: int, lease: int) -> None:
        """Follow the board's lease counter when it is ahead, or too far behind to be caught up with.

        A little behind is left alone: a frame with the number in between may still be under way.
        """
        if boot_id != self._boot_id or (self._lease - lease) & 0xFFFF > LEASE_LEAD:
            self._lease = lease
        self._boot_id = boot_id


def _encode(outputs: Request, lease: int, boot_id: int) -> bytes:
    fill, dose = outputs.fill, outputs.dose
    others = outputs.stir or outputs.air or outputs.agitators or outputs.drain or outputs.permit
    flags = reg.COMMAND_ENABLE if fill or dose or others else 0
    if dose:
        flags |= reg.COMMAND_RUN
        boot_id = dose.boot_id
    try:
        return _command_words.pack(
            lease,
            boot_id,
            flags,
            fill.open_id if fill else 0,
            fill.max_ms if fill else 0,
            dose.channel if dose else 0,
            dose.dose_id if dose else 0,
            dose.target_count if dose else 0,
            dose.counts_per_s if dose else 0,
        )
    except struct.error as error:
        raise ValueError(f"a number of the command fits no register: {fill} {dose}") from error


def _image(fields: tuple[int, ...]) -> BoardImage:
    (
        _map_id,
        boot_id,
        uptime_ms,
        _lease,
        status,
        trips,
        first_trip,
        _refusal,
        open_id,
        channel,
        dose_id,
        target,
        done,
        ph_decimv,
        ec_us_cm,
        tank_centic,
        supply_centic,
        level_decimm,
        flow_pulses,
    ) = fields
    return BoardImage(
        boot_id=boot_id,
        uptime_ms=uptime_ms,
        trips=_trip_set(trips),
        first_trip=_TRIPS.get(first_trip),
        enabled=status & reg.STATUS_ENABLED != 0,
        valve_open=status & reg.STATUS_VALVE_OPEN != 0,
        open_id=open_id,
        high_float=status & reg.STATUS_HIGH_FLOAT != 0,
        leak=status & reg.STATUS_LEAK != 0,
        motion=Motion(channel, dose_id, target, done, status & reg.STATUS_RUNNING != 0),
        ph_mv=_scaled(ph_decimv, 10),
        ec_us_cm=_scaled(ec_us_cm, 1),
        tank_c=_scaled(tank_centic, 100),
        supply_c=_scaled(supply_centic, 100),
        level_mm=_scaled(level_decimm, 10),
        flow_pulses=flow_pulses,
    )
