"""Which planned night a simulation plays, and when it begins: no real calendar is looked at."""

from __future__ import annotations

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from controller.settings.values import PlannedNight, Site


def first_night(site: Site) -> PlannedNight:
    """Give the night that the schedule names first."""
    return site.policy.nights[0]


def start_of(site: Site, night: PlannedNight) -> datetime:
    """Give the first such night after probe and proof tests were last done, so that both are in date."""
    day = max(site.rig.probe.calibrated, site.policy.proof_tests.done) + timedelta(days=1)
    while day.weekday() not in night.weekdays:
        day += timedelta(days=1)
    zone = ZoneInfo(site.policy.time_zone)
    return datetime(day.year, day.month, day.day, night.hour, night.minute, tzinfo=zone)
