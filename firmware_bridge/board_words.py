"""Registers and what they mean: a request put into a command block, a scan block read as an image.

Numbers only: no frames, no order, no judgement. What cannot be read is None, what is not asked for is off.
"""

from __future__ import annotations

import struct
from functools import lru_cache

from controller.run.image import BoardImage, Motion, Trip
from controller.run.request import Request
from firmware_bridge import registers as reg

_TRIPS = {
    reg.TRIP_LEASE: Trip.LEASE,
    reg.TRIP_HIGH_FLOAT: Trip.HIGH_FLOAT,
    reg.TRIP_LEAK: Trip.LEAK,
    reg.TRIP_VALVE_TIME: Trip.VALVE_TIME,
    reg.TRIP_DOSE_CAP: Trip.DOSE_CAP,
    reg.TRIP_NIGHT_CAP: Trip.NIGHT_CAP,
    reg.TRIP_COMMAND: Trip.COMMAND,
    reg.TRIP_SELF_TEST: Trip.SELF_TEST,
    reg.TRIP_MEMORY: Trip.MEMORY,
}
scan_words = struct.Struct(reg.SCAN_FORMAT)
_command_words = struct.Struct(reg.COMMAND_FORMAT)


def command_block(outputs: Request, lease: int, boot_id: int) -> bytes:
    """Put a request into the words of one command.

    What flows is meant for one start of the board: dose and fill carry their own boot id, all else takes
    `boot_id`. Raises ValueError for a number that fits no register.
    """
    fill, dose = outputs.fill, outputs.dose
    others = outputs.stir or outputs.air or outputs.agitators or outputs.drain or outputs.permit
    flags = reg.COMMAND_ENABLE if fill or dose or others else 0
    if fill:
        boot_id = fill.boot_id
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


def image_of(fields: tuple[int, ...]) -> BoardImage:
    """Read the fields of a scan block as an image."""
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
        second_ph_decimv,
        *scales_g,
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
        second_ph_mv=_scaled(second_ph_decimv, 10),
        scales_g=tuple([_scaled(raw, 1) for raw in scales_g]),
    )


@lru_cache(maxsize=256)
def _trip_set(bits: int) -> frozenset[Trip]:
    return frozenset(trip for code, trip in _TRIPS.items() if bits >> (code - 1) & 1)


def _scaled(raw: int, divisor: int) -> float | None:
    return None if raw == reg.NO_READING else raw / divisor
