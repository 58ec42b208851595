"""The time of day of a scan, through the nights on which the clock on the wall is changed."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from controller.service.wall_clock import wall_at

# IANA time zone database; EU Directive 2000/84/EC: summer time begins and ends at 01:00 UTC on the last
# Sunday of March and of October.
LISBON = ZoneInfo("Europe/Lisbon")
AUTUMN = datetime(2026, 10, 25, 0, 30, tzinfo=LISBON)
SPRING = datetime(2026, 3, 29, 0, 30, tzinfo=LISBON)


@pytest.mark.parametrize(
    ("start", "told"),
    [
        (AUTUMN, ["00:30 +0100", "01:30 +0100", "01:30 +0000", "02:30 +0000"]),
        (SPRING, ["00:30 +0000", "02:30 +0100", "03:30 +0100", "04:30 +0100"]),
    ],
    ids=["put back", "put on"],
)
def test_the_clock_on_the_wall_is_told_through_its_change(start: datetime, told: list[str]):
    assert [f"{wall_at(start, hours * 3600.0):%H:%M %z}" for hours in range(4)] == told


@pytest.mark.parametrize("start", [AUTUMN, SPRING], ids=["put back", "put on"])
def test_as_much_time_passes_as_was_scanned(start: datetime):
    for at_s in (0.0, 1_800.0, 3_599.95, 3_600.0, 7_200.05):
        told = wall_at(start, at_s)
        assert told.tzinfo is LISBON
        assert told.astimezone(UTC) - start.astimezone(UTC) == timedelta(seconds=at_s)
