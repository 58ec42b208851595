"""Every trap of units and numbers is refused by its name, with what to write instead."""

import pytest

from controller.settings import wanted
from controller.settings.faults import Refused
from controller.settings.quantity import Wanted, read
from controller.settings.traps import UNIT_TRAPS
from controller.settings.units import Spoons, unit_spelled

ML = wanted.MILLILITRES
RATE = wanted.MILLILITRES_PER_LITRE


def refusal(text: object, kind: Wanted) -> Refused:
    with pytest.raises(Refused) as raised:
        read(text, kind)
    return raised.value


@pytest.mark.parametrize(
    ("text", "kind", "problem", "remedy"),
    [
        ("2 oz/gal", RATE, "oz alone may be a weight or a volume", 'write "fl oz"'),
        ("5.8 pH", ML, "pH is a scale and not a unit", "write the plain number"),
        ("pH", ML, "pH is a scale and not a unit", "write the plain number"),
        ("5 ML", ML, "ML means megalitre", "write mL"),
        ("5 Ml/L", RATE, "Ml means megalitre", "write mL"),
        ("5 M", wanted.SECONDS, "M may be molar, mega or minutes", "in full"),
        ("5 m", wanted.SECONDS, "is a length, but a time is wanted", "write min for minutes"),
        ("50 ppm", RATE, "ppm does not say parts of what", "two units"),
        ("3 drops/L", RATE, "drops has no fixed size", "in mL"),
        ("1 cup", ML, "a cup may be 237, 240 or 250 mL", "in mL"),
        ("1 pint", ML, "a pint may be 473 mL (US) or 568 mL (imperial)", "in mL"),
        ("5 cc", ML, "cc is easily misread", "write mL"),
        ("1 T/gal", RATE, "T may be a teaspoon, a tablespoon or a tonne", "in full"),
        ("1 TSP/gal", RATE, "TSP is also the name of a cleaning salt", "small letters"),
        ("1 imp tsp/gal", RATE, "spoons of imp tsp have no agreed size", "top of the file"),
        (
            "1 customary tsp/gal",
            RATE,
            "the convention does not stand beside the unit",
            'spoons = "customary"',
        ),
        ("1 tsp/UK gal", RATE, "UK gal is not a spelling used here", '"imp gal"'),
        ("18 C", wanted.DEGREES_CELSIUS, "C is not a temperature unit used here", "°C"),
        ("64 °F", wanted.DEGREES_CELSIUS, "°F is not a temperature unit used here", "°C"),
        ("10 sec", wanted.SECONDS, "sec is not a time unit used here", "write s"),
        ("4 MV", wanted.MILLIVOLTS, "MV is not millivolt", "write mV"),
        ("5 mll", ML, 'has an unknown unit "mll"', 'the nearest is "ml"'),
        ("10,5 mL", ML, "has a comma in its number", "a point for decimals"),
        ("1,000 mL", ML, "has a comma in its number", "nothing between thousands"),
        ("1 000 mL", ML, "has a space inside its number", "nothing between thousands"),
        ("1.2.3 mL", ML, "has more than one decimal point", "one number"),
        ("1/2 tsp/gal", RATE, "has a fraction for its number", "0.5"),
        ("½ tsp/gal", RATE, "has a fraction for its number", "0.5"),
        (".5 mL", ML, "has no digit before its point", "write 0.5"),
        ("5. mL", ML, "has no digit after its point", "write 5 or 5.0"),
        ("05 mL", ML, "has a zero in front of its number", "write 5 or 0.5"),
        ("-5 mL", ML, "is negative", "positive"),
        ("−5 mV", wanted.MILLIVOLTS, "has a printed dash for its sign", "hyphen"),
        ("+5 mL", ML, "has a plus sign", "leave the sign out"),
        ("1e3 mL", ML, "is written with an exponent", "write the number out"),
        ("nan mL", ML, "is not a finite number", "12 mL"),
        ("-inf mL", ML, "is not a finite number", "12 mL"),
        ("2*3 mL", ML, "does not start with a plain number", "in digits"),
        ("٣ mL", ML, "does not start with a plain number", "in digits"),
        ("some mL", ML, "does not start with a number", "number first"),
        ("10", ML, "is a bare number without a unit", 'e.g. "12 mL"'),
        (10, ML, "is a bare number without a unit", "in quotes"),
        (10.5, ML, "is a bare number without a unit", "in quotes"),
        (True, ML, "is not a quantity", "text with a number and its unit"),
        (["1 mL"], ML, "is not a quantity", "text with a number and its unit"),
        ("", ML, "is empty", "a number and its unit"),
        ("0 mL", ML, "is zero", "leave the line out"),
        ("1" * 70 + " mL", ML, "is too long for a quantity", "12 mL"),
        ("99999999999 L", wanted.LITRES, "is more than 100000 L", "slip of the unit"),
        ("2000 L", ML, "is more than 1000 L", "slip of the unit"),
        ("0.1 kg/L", wanted.KILOGRAMS_PER_LITRE, "is less than 0.5 kg/L", "slip of the unit"),
        ("12 h", wanted.DAYS, "is not a whole number of days", "30 days"),
        ("4 mL/L/L", RATE, "does not have the form of a unit", "4 mL/L"),
        ("4 mL/", RATE, "does not have the form of a unit", "4 mL/L"),
    ],
)
def test_a_trap_is_refused_by_name_with_a_remedy(
    text: object, kind: Wanted, problem: str, remedy: str
) -> None:
    refused = refusal(text, kind)
    assert problem in refused.problem
    assert remedy in refused.remedy


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("10 mL", "is a volume, but a volume per volume is wanted"),
        ("1 %", "is a share, but a volume per volume is wanted"),
        ("1 kg/kg", "is a mass per mass, but a volume per volume is wanted"),
        ("10 mL/min", "is a volume per time, but a volume per volume is wanted"),
        ("10 g/L", "is a mass per volume, but a volume per volume is wanted"),
    ],
)
def test_numerator_and_denominator_must_each_measure_what_is_wanted(text: str, problem: str) -> None:
    assert refusal(text, RATE).problem == problem


@pytest.mark.parametrize("word", UNIT_TRAPS)
def test_no_trap_is_also_a_unit_and_each_is_refused_in_a_rate(word: str) -> None:
    assert [unit_spelled(word, spoons) for spoons in Spoons] == [None, None]
    assert refusal(f"1 {word}/L", RATE).problem == UNIT_TRAPS[word].problem
