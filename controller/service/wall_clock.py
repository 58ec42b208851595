"""From the time of the scans to the time of day, for the record. Nothing is timed by it."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta


def wall_at(start: datetime, at_s: float) -> datetime:
    """Give the time of day `at_s` seconds after `start`, in the zone of `start`.

    Counted in UTC: in a zone Python adds to what the clock on the wall shows, an hour off when it is put on
    or back.
    """
    return (start.astimezone(UTC) + timedelta(seconds=at_s)).astimezone(start.tzinfo)
