"""The schedule within site.toml: time zone and planned nights, as written and checked."""

from __future__ import annotations

from enum import Enum
from typing import Annotated
from zoneinfo import ZoneInfo, available_timezones

from pydantic import Field, PlainValidator

from controller.settings import values
from controller.settings.faults import Refused, nearest
from controller.settings.fields import Name, Table, TimeOfDay, example, one_of


class Weekday(Enum):
    """Days of the week, Monday first, as they are written."""

    MONDAY = "monday"
    TUESDAY = "tuesday"
    WEDNESDAY = "wednesday"
    THURSDAY = "thursday"
    FRIDAY = "friday"
    SATURDAY = "saturday"
    SUNDAY = "sunday"


_WEEK = tuple(Weekday)


def _time_zone(value: object) -> str:
    try:
        if not isinstance(value, str):
            raise TypeError
        ZoneInfo(value)
    except (KeyError, ValueError, TypeError, OSError):
        known = available_timezones()
        if not known:
            raise Refused(
                "cannot be looked up: no time zones here", "install the system's tzdata package"
            ) from None
        raise Refused(
            "is not a known time zone", f'{nearest_zone(value, known)}; e.g. "Europe/Lisbon"'
        ) from None
    return value


def nearest_zone(value: object, known: set[str]) -> str:
    """Name the nearest time zone; letters' case does not matter."""
    by_small = {zone.lower(): zone for zone in known}
    text = nearest(value, by_small)
    return text.replace(text.split('"')[1], by_small[text.split('"')[1]]) if '"' in text else "it is no place"


TimeZone = Annotated[str, PlainValidator(_time_zone), example('"Europe/Lisbon"')]


class NightTable(Table):
    """[[night]]: one line of the schedule."""

    at: TimeOfDay
    days: Annotated[
        list[Annotated[Weekday, one_of(Weekday)]], Field(min_length=1), example('["monday", "thursday"]')
    ]
    recipe: Name

    def checked(self) -> values.PlannedNight:
        """Turn into the checked value; 0 is Monday."""
        return values.PlannedNight(
            weekdays=frozenset(_WEEK.index(day) for day in self.days),
            hour=self.at.hour,
            minute=self.at.minute,
            recipe=self.recipe,
        )
