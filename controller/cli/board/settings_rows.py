"""The settings that a board holds, each number in words, so that a person can compare two sets of them.

Pure wording; counts are told in mL by the site's own pumps.
"""

from __future__ import annotations

from controller.record.words import duration, millilitres
from controller.settings.values import Pump, Site
from firmware_bridge.firmware.board_file import BoardFile
from firmware_bridge.firmware.front_ends import FrontEnds
from firmware_bridge.firmware.limits import Limits

Rows = tuple[tuple[str, str], ...]
NOT_THERE = "not there"


def rows_of(site: Site, settings: BoardFile) -> Rows:
    """Write every number of a settings file: line, limits, front ends."""
    line = (("server id", str(settings.server_id)), ("line speed", f"{settings.baud} baud"))
    return (*line, *limit_rows(site, settings.limits), *front_end_rows(settings.front_ends))


def limit_rows(site: Site, limits: Limits) -> Rows:
    """Write every cap; a channel without a pump of this site can only be told in counts."""
    rows = [
        ("lease (longest silence of the computer)", f"{limits.lease_ms} ms"),
        ("longest opening of the fill valve", duration(limits.valve_cap_ms / 1000)),
        ("all its openings in one night", duration(limits.valve_night_cap_ms / 1000)),
        ("what has moved counts as the same night for", duration(limits.night_ms / 1000)),
    ]
    by_channel = {pump.channel: pump for pump in site.rig.pumps.values()}
    for channel in range(limits.channels):
        pump = by_channel.get(channel)
        name = f"channel {channel}, {'no pump' if pump is None else pump.name}"
        rows.append((f"{name}: most in one dose", _amount(limits.dose_caps[channel], pump)))
        rows.append((f"{name}: most in one night", _amount(limits.night_caps[channel], pump)))
        rows.append((f"{name}: fastest", _speed(limits.max_counts_per_s[channel], pump)))
        rows.append((f"{name}: turned back after a dose", _amount(limits.anti_drip[channel], pump)))
    return tuple(rows)


def front_end_rows(front_ends: FrontEnds) -> Rows:
    """Write what the analogue modules give."""
    return (
        ("pH module at 0 mV of the electrode", f"{front_ends.ph_zero_mv} mV"),
        ("pH module's gain", f"{front_ends.ph_gain_milli / 1000:g}"),
        ("conductivity module, dry", f"{front_ends.conductivity_zero_mv} mV"),
        (
            "conductivity module at its top",
            f"{front_ends.conductivity_full_mv} mV = {front_ends.conductivity_full_us_cm} µS/cm",
        ),
        ("level module, empty tank", f"{front_ends.level_zero_mv} mV"),
        (
            "level module at its top",
            f"{front_ends.level_full_mv} mV = {front_ends.level_full_decimm / 10:g} mm",
        ),
        ("second pH module", "fitted" if front_ends.second_ph else "not fitted"),
    )


def changes(before: Rows, after: Rows) -> tuple[tuple[str, str, str], ...]:
    """List what differs: name, before, after."""
    old, new = dict(before), dict(after)
    names = [*new, *(name for name in old if name not in new)]
    told = ((name, old.get(name, NOT_THERE), new.get(name, NOT_THERE)) for name in names)
    return tuple(change for change in told if change[1] != change[2])


def _amount(counts: int, pump: Pump | None) -> str:
    volume = "" if pump is None else f"{millilitres(counts * pump.ml_per_count)} = "
    return f"{volume}{counts} counts"


def _speed(counts_per_s: int, pump: Pump | None) -> str:
    volume = "" if pump is None else f"{counts_per_s * pump.ml_per_count * 60:.0f} mL/min = "
    return f"{volume}{counts_per_s} counts/s"
