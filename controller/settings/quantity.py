"""Read a quantity written as text ("2 tsp/gal") into one number, or refuse it by name.

Our own strict reading comes first: pint would take "10,5 mL" for 105 mL. Which units there are is
`units.py`; pydantic is not known here.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction

from controller.settings.faults import Refused, nearest
from controller.settings.numbers import plain_number
from controller.settings.traps import UNIT_TRAPS, number_trap
from controller.settings.units import Dimension, Spoons, Unit, exact_factor, spellings, unit_spelled

LONGEST_TEXT = 60
SLIP = "look for a slip of the unit or of the point"
_PLAIN_NUMBER = re.compile(r"(?:0|[1-9][0-9]*)(?:\.[0-9]+)?")
_UP_TO_THE_UNIT = re.compile(r"[^A-Za-z%°µμ]*")


@dataclass(frozen=True, slots=True)
class Wanted:
    """What a setting must measure and in which unit its number is kept.

    `low` and `high` bound the number; `low` 0 admits zero only with `zero`. Texts may be negative only
    with `signed`.
    """

    numerator: Dimension
    into: str
    unit_text: str
    high: float
    example: str
    denominator: Dimension | None = None
    per: str = ""
    low: float = 0.0
    zero: bool = False
    signed: bool = False
    whole: bool = False

    @property
    def noun(self) -> str:
        """Name what is wanted, e.g. `a volume per a time`."""
        return (
            self.numerator.value
            if self.denominator is None
            else f"{self.numerator.value} per {self.denominator.value[2:]}"
        )


@dataclass(frozen=True, slots=True)
class Reading:
    """A quantity as read. `shown` is the text with the convention it was read by; `value` its number."""

    text: str
    value: float
    shown: str


def read(text: object, wanted: Wanted, spoons: Spoons = Spoons.LABEL) -> Reading:
    """Read one quantity.

    The number is exact up to one rounding to a float. Raises Refused with the reason and the remedy.
    """
    whole_text = _as_text(text, wanted)
    number, units_text = _split(whole_text, wanted)
    parts = [_unit(part, spoons, wanted) for part in _unit_parts(units_text, wanted)]
    factor = _factor(parts, wanted)
    value = _bounded(number * factor, whole_text, wanted)
    return Reading(whole_text, value, _shown(whole_text, value, parts, wanted))


def readable(text: object, wanted: Wanted, spoons: Spoons = Spoons.LABEL) -> float | None:
    """Give the number of a quantity, or None where `read` would refuse it."""
    try:
        return read(text, wanted, spoons).value
    except Refused:
        return None


def _as_text(text: object, wanted: Wanted) -> str:
    if isinstance(text, bool) or not isinstance(text, str | int | float):
        raise Refused(
            "is not a quantity", f'write a text with a number and its unit, e.g. "{wanted.example}"'
        )
    if not isinstance(text, str):
        raise Refused(
            "is a bare number without a unit", f'write it with its unit in quotes, e.g. "{wanted.example}"'
        )
    if not text.strip(" "):
        raise Refused("is empty", f'write a number and its unit, e.g. "{wanted.example}"')
    if len(text) > LONGEST_TEXT:
        raise Refused("is too long for a quantity", f'write it like "{wanted.example}"')
    return text.strip(" ")


def _split(text: str, wanted: Wanted) -> tuple[Fraction, str]:
    head = _UP_TO_THE_UNIT.match(text)
    number_text = head.group().strip(" ") if head else ""
    units_text = text[head.end() :] if head else text
    if re.match(r"[+-]?(?:nan|inf)", f"{number_text}{units_text}", re.IGNORECASE):
        raise Refused("is not a finite number", f'write a number, e.g. "{wanted.example}"')
    if re.match(r"[eE][+-]?[0-9]", units_text):
        raise Refused("is written with an exponent", "write the number out")
    sign = 1
    if wanted.signed and number_text.startswith("-"):
        sign, number_text = -1, number_text[1:]
    if not number_text and units_text in UNIT_TRAPS:
        raise Refused(UNIT_TRAPS[units_text].problem, UNIT_TRAPS[units_text].remedy)
    if not _PLAIN_NUMBER.fullmatch(number_text):
        trap = number_trap(number_text)
        raise Refused(trap.problem, f'{trap.remedy} (like "{wanted.example}")')
    if not units_text:
        raise Refused("is a bare number without a unit", f'add the unit, e.g. "{wanted.example}"')
    return sign * Fraction(number_text), units_text


def _unit_parts(units_text: str, wanted: Wanted) -> list[str]:
    # One spelling of a compound unit holds a space or a slash-free product; "per" is the same as "/".
    parts = [part.strip(" ") for part in re.sub(r" per ", "/", units_text).split("/")]
    if len(parts) > 2 or not all(parts):
        raise Refused("does not have the form of a unit", f'write it like "{wanted.example}"')
    return [re.sub(r" +", " ", part) for part in parts]


def _unit(word: str, spoons: Spoons, wanted: Wanted) -> Unit:
    trap = UNIT_TRAPS.get(word)
    if trap is not None:
        raise Refused(trap.problem, trap.remedy)
    unit = unit_spelled(word, spoons)
    if unit is None:
        dimensions = [wanted.numerator] + ([wanted.denominator] if wanted.denominator else [])
        known = [spelling for dimension in dimensions for spelling in spellings(dimension)]
        raise Refused(
            f'has an unknown unit "{word}"', f'{nearest(word, known)}; write it like "{wanted.example}"'
        )
    return unit


def _factor(parts: list[Unit], wanted: Wanted) -> Fraction:
    # Numerator and denominator are compared one by one: taken together mL/gal, kg/kg and % would all pass as
    # plain numbers.
    found = tuple(unit.dimension for unit in parts)
    needed = (wanted.numerator,) if wanted.denominator is None else (wanted.numerator, wanted.denominator)
    if found != needed:
        noun = " per ".join([found[0].value, *(dimension.value[2:] for dimension in found[1:])])
        remedy = f'write it like "{wanted.example}"'
        if parts[0].name == "metre" and wanted.numerator is Dimension.TIME:
            remedy = "m is metre; write min for minutes"
        raise Refused(f"is {noun}, but {wanted.noun} is wanted", remedy)
    factor = exact_factor(parts[0].name, wanted.into)
    return factor / exact_factor(parts[1].name, wanted.per) if wanted.denominator else factor


def _bounded(exact: Fraction, text: str, wanted: Wanted) -> float:
    value = float(exact)
    if exact == 0 and not wanted.zero and not wanted.signed:
        raise Refused("is zero", f'write more than nothing, e.g. "{wanted.example}", or leave the line out')
    if value > wanted.high:
        raise Refused(f"is more than {_limit(wanted.high, wanted)}", SLIP)
    if value < wanted.low:
        raise Refused(f"is less than {_limit(wanted.low, wanted)}", SLIP)
    if wanted.whole and exact.denominator != 1:
        raise Refused(f"is not a whole number of {wanted.unit_text}", f'write it like "{wanted.example}"')
    return value


def _limit(value: float, wanted: Wanted) -> str:
    if wanted.unit_text == "mL" and value >= 10_000:
        return f"{plain_number(value / 1000)} L"
    return f"{plain_number(value)} {wanted.unit_text}"


def _shown(text: str, value: float, parts: list[Unit], wanted: Wanted) -> str:
    conventions = [unit.convention for unit in parts if unit.convention]
    if not conventions:
        return text
    return f"{text} ({', '.join(conventions)}) = {plain_number(value)} {wanted.unit_text}"
