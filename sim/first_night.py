"""Which planned night a simulation plays, and when it begins: no real calendar is looked at."""

from __future__ import annotations

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from controller.settings.values import PlannedNight, Site


def first_night(site: Site) -> PlannedNight:
    """Give the night that the schedule names first."""
    return site.policy.nights[0]


def start_of(site: Site, night: PlannedNight) -> datetime:
    """Give the first such night after all calibrations and proof tests were last done: all are in date."""
    rig = site.rig
    done = [rig.probe.calibrated, site.policy.proof_tests.done]
    done += [item.calibrated for item in (rig.second_probe, rig.cell) if item is not None]
    done += [pump.calibrated for pump in rig.pumps.values() if pump.calibrated is not None]
    day = max(done) + timedelta(days=1)
    while day.weekday() not in night.weekdays:
        day += timedelta(days=1)
    zone = ZoneInfo(site.policy.time_zone)
    return datetime(day.year, day.month, day.day, night.hour, night.minute, tzinfo=zone)
