"""Spellings that look like a unit or a number and are refused by name, each with what to write instead.

Facts only; `quantity.py` looks here before it reads anything.
"""

from __future__ import annotations

import re
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Trap:
    """Why a spelling is dangerous and what to write instead."""

    problem: str
    remedy: str


def _each(words: str, problem: str, remedy: str) -> dict[str, Trap]:
    return {word: Trap(problem.replace("WORD", word), remedy) for word in words.split("|")}


_NO_SIZE = "WORD has no fixed size"
_MEASURE = "measure it once and write it in mL"

UNIT_TRAPS: dict[str, Trap] = {
    **_each(
        "oz|ounce|ounces",
        "WORD alone may be a weight or a volume",
        'write "fl oz" for a volume, or better mL',
    ),
    **_each("pH", "pH is a scale and not a unit", "write the plain number, e.g. 5.8, where a pH is wanted"),
    **_each("ML|Ml", "WORD means megalitre, a million litres", "write mL (small m, large L)"),
    **_each("M", "M may be molar, mega or minutes", "write mL, mm, min or m in full"),
    **_each("ppm|ppb", "WORD does not say parts of what", "write a rate with two units, e.g. mL/L"),
    **_each("drop|drops|pinch|dash|splash|cap|caps|capful|capfuls|scoop|scoops", _NO_SIZE, _MEASURE),
    **_each("cup|cups", "a cup may be 237, 240 or 250 mL", "write it in mL"),
    **_each(
        "pint|pints|pt|US pint|imp pint", "a pint may be 473 mL (US) or 568 mL (imperial)", "write it in mL"
    ),
    **_each("cc|CC|cm3|cm³", "WORD is easily misread", "write mL"),
    **_each(
        "T|t|TB|Tb|Tbs|tbs", "WORD may be a teaspoon, a tablespoon or a tonne", "write tsp or tbsp in full"
    ),
    **_each("TSP|Tsp", "WORD is also the name of a cleaning salt", "write tsp in small letters"),
    **_each(
        "imp tsp|imp tbsp|metric tsp|metric tbsp|US tsp|US tbsp|UK tsp|UK tbsp",
        "spoons of WORD have no agreed size",
        'write tsp or tbsp with spoons = "label" or "customary" at the top of the file, or mL',
    ),
    **_each(
        "customary tsp|customary tbsp|customary fl oz|label tsp|label tbsp|label fl oz",
        "the convention does not stand beside the unit",
        'write spoons = "customary" or spoons = "label" once, at the top of the file',
    ),
    **_each(
        "UK gal|UK gallon|imperial gallon|imperial gal", "WORD is not a spelling used here", 'write "imp gal"'
    ),
    **_each(
        "C|F|°F|degF|celsius|Celsius|deg C", "WORD is not a temperature unit used here", "write °C or degC"
    ),
    **_each(
        "S|H|Min|MIN|sec|secs|mins|hr|hrs|d", "WORD is not a time unit used here", "write s, min, h or days"
    ),
    **_each("mS|MV|mv", "WORD is not millivolt", "write mV (small m, large V)"),
}

# Checked in this order against what stands before the unit.
_NUMBER_TRAPS: tuple[tuple[str, Trap], ...] = (
    (r".*,.*", Trap("has a comma in its number", "write a point for decimals and nothing between thousands")),
    (r".*\..*\..*", Trap("has more than one decimal point", "write one number, e.g. 1.5")),
    (r".*[/½¼¾⅓⅔⅛].*", Trap("has a fraction for its number", "write it with a point, e.g. 0.5")),
    (r"[+-]?\..*", Trap("has no digit before its point", "write 0.5, not .5")),
    (r".*\.", Trap("has no digit after its point", "write 5 or 5.0, not 5.")),
    (r"[−–].*", Trap("has a printed dash for its sign", "write a hyphen for minus, where minus is allowed")),
    (r"-.*", Trap("is negative", "write a positive number")),
    (r"\+.*", Trap("has a plus sign", "leave the sign out")),
    (r"0[0-9].*", Trap("has a zero in front of its number", "write 5 or 0.5, not 05")),
    (r"[0-9.]+ +[0-9. ]+", Trap("has a space inside its number", "write nothing between thousands")),
)


def number_trap(text: str) -> Trap:
    """Say what is wrong with a number that is not a plain one."""
    if not text:
        return Trap("does not start with a number", "write the number first, then its unit")
    for pattern, trap in _NUMBER_TRAPS:
        if re.fullmatch(pattern, text, re.DOTALL):
            return trap
    return Trap("does not start with a plain number", "write the number in digits, then its unit")
