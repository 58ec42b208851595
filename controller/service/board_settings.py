"""What this site's board must hold: the caps worked out from the pumps and the valve. No link, no files."""

from __future__ import annotations

from controller.settings.values import Pump, Site
from firmware_bridge.firmware.limits import Limits

# Doses are rounded up to whole roller counts, so the board may allow a little more than the plan does.
CAP_MARGIN = 1.05


def limits_of(site: Site) -> Limits:
    """Give the caps that this site's board carries; a channel's cap of the night serves for one dose too."""
    pumps: dict[int, Pump] = {pump.channel: pump for pump in site.rig.pumps.values()}
    channels = range(max(pumps) + 1)
    night = tuple(_night_counts(pumps.get(channel)) for channel in channels)
    speeds = tuple(_top_speed(pumps.get(channel)) for channel in channels)
    valve_cap_ms = max(1, round(site.rig.board.valve_cap_s * 1000))
    return Limits(dose_caps=night, night_caps=night, max_counts_per_s=speeds, valve_cap_ms=valve_cap_ms)


def _night_counts(pump: Pump | None) -> int:
    return 1 if pump is None else max(1, round(pump.night_cap_ml * CAP_MARGIN / pump.ml_per_count))


def _top_speed(pump: Pump | None) -> int:
    return 1 if pump is None else max(1, round(pump.max_ml_min / 60 / pump.ml_per_count))
