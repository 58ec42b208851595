"""The types of one setting, as pydantic checks them: quantities, names, choices, times of day.

Which settings there are is said by the schemas; how a quantity is read by `quantity.py`.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, time
from enum import Enum
from typing import Annotated, Any, TypeVar

from pydantic import BaseModel, ConfigDict, Field, PlainValidator, ValidationInfo

from controller.settings import wanted as w
from controller.settings.faults import Refused, nearest
from controller.settings.quantity import Reading, Wanted, read
from controller.settings.units import Spoons

_NAME = re.compile(r"[a-z][a-z0-9_]{0,39}")
_TIME_OF_DAY = re.compile(r"([01][0-9]|2[0-3]):([0-5][0-9])")


class Table(BaseModel):
    """One table of a TOML file: no key too many, no type bent, nothing changed afterwards."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, allow_inf_nan=False)


@dataclass(frozen=True, slots=True)
class Conventions:
    """What a whole file says about how its quantities are to be read."""

    spoons: Spoons


def _quantity(wanted: Wanted) -> Any:
    def check(value: object, info: ValidationInfo) -> Reading:
        conventions = info.context
        spoons = conventions.spoons if isinstance(conventions, Conventions) else Spoons.LABEL
        return read(value, wanted, spoons)

    return PlainValidator(check)


def checked_name(value: object) -> str:
    """Accept a name that is fit for files, topics and tables; raise Refused otherwise."""
    if not isinstance(value, str):
        raise Refused("is not a name", "write a name in quotes")
    if not _NAME.fullmatch(value):
        raise Refused("is not a plain name", "use small letters, digits and _, a letter first, at most 40")
    return value


def _title(value: object) -> str:
    if not isinstance(value, str):
        raise Refused("is not a text", "write a title in quotes")
    if not value.strip() or len(value) > 80 or not value.isprintable():
        raise Refused("is not a title", "write one line of 1 to 80 characters")
    return value


def _time_of_day(value: object) -> time:
    found = _TIME_OF_DAY.fullmatch(value) if isinstance(value, str) else None
    if found is None:
        raise Refused("is not a time of day", 'write hours and minutes in quotes, e.g. "02:30"')
    return time(int(found[1]), int(found[2]))


def _day(value: object) -> date:
    if not isinstance(value, date) or isinstance(value, datetime):
        raise Refused("is not a date", "write year-month-day without quotes, e.g. 2026-11-20")
    return value


Choice = TypeVar("Choice", bound=Enum)


def chosen_from(options: type[Choice]) -> Callable[[object], Choice]:
    """Make the check that a text is one of the values of an enum."""
    by_word = {str(option.value): option for option in options}

    def check(value: object) -> Choice:
        if not isinstance(value, str) or value not in by_word:
            listed = ", ".join(f'"{word}"' for word in by_word)
            close = f"{nearest(value, by_word)}; " if isinstance(value, str) else ""
            raise Refused("is not one of the choices", f"{close}write one of {listed}")
        return by_word[value]

    return check


def one_of(options: type[Enum]) -> Any:
    """Annotate a field that takes one of the values of an enum."""
    return PlainValidator(chosen_from(options))


def example(text: str) -> Any:
    """Annotate a field with what to write when it is missing."""
    return Field(examples=[text])


def _example_of(wanted: Wanted) -> Any:
    return example(f'"{wanted.example}"')


Litres = Annotated[Reading, _quantity(w.LITRES), _example_of(w.LITRES)]
LitresOrNone = Annotated[Reading, _quantity(w.LITRES_OR_NONE), _example_of(w.LITRES_OR_NONE)]
Millilitres = Annotated[Reading, _quantity(w.MILLILITRES), _example_of(w.MILLILITRES)]
MillilitresOrNone = Annotated[Reading, _quantity(w.MILLILITRES_OR_NONE), _example_of(w.MILLILITRES_OR_NONE)]
MillilitresSigned = Annotated[Reading, _quantity(w.MILLILITRES_SIGNED), _example_of(w.MILLILITRES_SIGNED)]
Rate = Annotated[Reading, _quantity(w.MILLILITRES_PER_LITRE), _example_of(w.MILLILITRES_PER_LITRE)]
DosingFlow = Annotated[Reading, _quantity(w.MILLILITRES_PER_MINUTE), _example_of(w.MILLILITRES_PER_MINUTE)]
WaterFlow = Annotated[Reading, _quantity(w.LITRES_PER_MINUTE), _example_of(w.LITRES_PER_MINUTE)]
PerCount = Annotated[Reading, _quantity(w.MILLILITRES_PER_COUNT), _example_of(w.MILLILITRES_PER_COUNT)]
PulsesPerLitre = Annotated[Reading, _quantity(w.PULSES_PER_LITRE), _example_of(w.PULSES_PER_LITRE)]
Seconds = Annotated[Reading, _quantity(w.SECONDS), _example_of(w.SECONDS)]
SecondsOrNone = Annotated[Reading, _quantity(w.SECONDS_OR_NONE), _example_of(w.SECONDS_OR_NONE)]
Days = Annotated[Reading, _quantity(w.DAYS), _example_of(w.DAYS)]
Metres = Annotated[Reading, _quantity(w.METRES), _example_of(w.METRES)]
Millimetres = Annotated[Reading, _quantity(w.MILLIMETRES), _example_of(w.MILLIMETRES)]
Millivolts = Annotated[Reading, _quantity(w.MILLIVOLTS), _example_of(w.MILLIVOLTS)]
ConverterMillivolts = Annotated[
    Reading, _quantity(w.CONVERTER_MILLIVOLTS), _example_of(w.CONVERTER_MILLIVOLTS)
]
DegreesCelsius = Annotated[Reading, _quantity(w.DEGREES_CELSIUS), _example_of(w.DEGREES_CELSIUS)]
KilogramsPerLitre = Annotated[Reading, _quantity(w.KILOGRAMS_PER_LITRE), _example_of(w.KILOGRAMS_PER_LITRE)]
Viscosity = Annotated[Reading, _quantity(w.MILLIPASCAL_SECONDS), _example_of(w.MILLIPASCAL_SECONDS)]
Share = Annotated[Reading, _quantity(w.SHARE), _example_of(w.SHARE)]
Slope = Annotated[Reading, _quantity(w.SLOPE), _example_of(w.SLOPE)]
ShareOrNone = Annotated[Reading, _quantity(w.SHARE_OR_NONE), _example_of(w.SHARE_OR_NONE)]
Guard = Annotated[Reading, _quantity(w.GUARD), _example_of(w.GUARD)]
FirstFill = Annotated[Reading, _quantity(w.FIRST_FILL), _example_of(w.FIRST_FILL)]
Recovery = Annotated[Reading, _quantity(w.RECOVERY), _example_of(w.RECOVERY)]

Name = Annotated[str, PlainValidator(checked_name), example('"a_plain_name"')]
Title = Annotated[str, PlainValidator(_title), example('"A title"')]
Day = Annotated[date, PlainValidator(_day), example("2026-11-20")]
TimeOfDay = Annotated[time, PlainValidator(_time_of_day), example('"02:30"')]
YesNo = Annotated[bool, example("true")]
SpoonWord = Annotated[Spoons, one_of(Spoons), example('"label"')]
# A pH window outside 3 to 10 is no feed; it is a slip.
FeedPh = Annotated[float, Field(ge=3.0, le=10.0), example("5.8")]
