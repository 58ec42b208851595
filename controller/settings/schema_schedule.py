"""The schedule within site.toml: time zone and planned nights, as written and checked."""

from __future__ import annotations

import difflib
from enum import Enum
from typing import Annotated
from zoneinfo import ZoneInfo, available_timezones

from pydantic import Field, PlainValidator

from controller.settings import values
from controller.settings.faults import Refused
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
        raise Refused("is not a known time zone", nearest_zone(value, known)) from None
    return value


def nearest_zone(value: object, known: set[str]) -> str:
    """Name the time zone that looks most like `value`, whatever the case of its letters."""
    by_small_letters = {zone.lower(): zone for zone in known}
    close = difflib.get_close_matches(str(value)[:60].lower(), by_small_letters, n=1)
    return f'the nearest is "{by_small_letters[close[0]]}"' if close else 'write it like "Europe/Lisbon"'


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
