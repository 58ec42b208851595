"""Sizes of units against the standards that fix them, and against rules growers go by."""

import math
from fractions import Fraction

import pytest

from controller.settings import wanted
from controller.settings.quantity import Wanted, read
from controller.settings.units import Spoons


def ml(text: str, spoons: Spoons = Spoons.LABEL) -> float:
    return read(text, wanted.MILLILITRES, spoons).value


def rate(text: str, spoons: Spoons = Spoons.LABEL) -> float:
    return read(text, wanted.MILLILITRES_PER_LITRE, spoons).value


# NIST Handbook 44, Appendix C: the gallon is 231 cubic inches, the inch 25.4 mm exactly; quart, fluid ounce,
# tablespoon and teaspoon are its 4th, 128th, 256th and 768th part. Figures in mL, exact.
HANDBOOK_44 = {
    "1 US gal": 3785.411784,
    "1 US quart": 946.352946,
    "1 US fl oz": 29.5735295625,
    "1 fl oz": 29.5735295625,
    "1 tbsp": 14.78676478125,
    "1 tsp": 4.92892159375,
}


@pytest.mark.parametrize(("text", "millilitres"), HANDBOOK_44.items())
def test_customary_units_have_the_size_of_nist_handbook_44_appendix_c(text: str, millilitres: float) -> None:
    assert math.isclose(ml(text, Spoons.CUSTOMARY), millilitres, rel_tol=1e-15)


@pytest.mark.parametrize(("text", "millilitres"), {"1 tsp": 5.0, "1 tbsp": 15.0, "1 fl oz": 30.0}.items())
def test_spoons_are_the_ones_of_labels_by_21_cfr_101_9_b_5_viii(text: str, millilitres: float) -> None:
    assert ml(text) == millilitres


@pytest.mark.parametrize(
    ("text", "millilitres"),
    # UK Weights and Measures Act 1985 (from memory): gallon 4.54609 L; quart 1/4, fluid ounce 1/160.
    {"1 imp gal": 4546.09, "1 imp quart": 1136.5225, "1 imp fl oz": 28.4130625}.items(),
)
def test_imperial_units_follow_from_the_gallon_of_4_54609_litres(text: str, millilitres: float) -> None:
    assert math.isclose(ml(text), millilitres, rel_tol=1e-15)


# Common practice, no source.
def test_2_teaspoons_a_gallon_are_10_millilitres_a_gallon() -> None:
    assert rate("2 tsp/gal") == rate("10 mL/gal")


def test_1_teaspoon_a_quart_is_20_millilitres_a_gallon() -> None:
    assert math.isclose(rate("1 tsp/quart"), rate("20 mL/gal"), rel_tol=1e-15)


@pytest.mark.parametrize(
    ("rate_text", "millilitres"), {"10 mL/gal": 200.0, "1 tbsp/gal": 300.0, "2 tbsp/gal": 600.0}.items()
)
def test_20_us_gallons_take_the_amounts_growers_measure(rate_text: str, millilitres: float) -> None:
    tank_l = read("20 US gal", wanted.LITRES).value
    assert math.isclose(rate(rate_text) * tank_l, millilitres, rel_tol=1e-15)


def test_a_customary_spoon_is_1_44_percent_smaller_than_the_label_spoon() -> None:
    # 5 / 4.92892159375, from the two sources above.
    assert math.isclose(
        rate("3 tsp/gal") / rate("3 tsp/gal", Spoons.CUSTOMARY), 1.0144206810552895, rel_tol=1e-12
    )


@pytest.mark.parametrize(
    ("text", "kind", "number"),
    [
        ("180 L", wanted.LITRES, 180.0),
        ("250 uL", wanted.MILLILITRES, 0.25),
        ("0.3 L/h", wanted.MILLILITRES_PER_MINUTE, 5.0),
        ("2 h", wanted.SECONDS, 7200.0),
        ("1 day", wanted.SECONDS, 86400.0),
        ("60 cm", wanted.METRES, 0.6),
        ("-4.5 mV", wanted.MILLIVOLTS, -4.5),
        ("18 °C", wanted.DEGREES_CELSIUS, 18.0),
        ("18 degC", wanted.DEGREES_CELSIUS, 18.0),
        ("1.15 g/mL", wanted.KILOGRAMS_PER_LITRE, 1.15),
        ("450 mPa s", wanted.MILLIPASCAL_SECONDS, 450.0),
        ("99.5 %", wanted.RECOVERY, 0.995),
        ("75%", wanted.SHARE, 0.75),
        ("0.05 mL/count", wanted.MILLILITRES_PER_COUNT, 0.05),
        ("1.5 tsp per imp gal", wanted.MILLILITRES_PER_LITRE, float(Fraction("7.5") / Fraction("4.54609"))),
    ],
)
def test_each_kind_of_quantity_is_read_to_the_last_bit(text: str, kind: Wanted, number: float) -> None:
    assert read(text, kind).value == number


@pytest.mark.parametrize(
    ("text", "spoons", "shown"),
    [
        ("2 tsp/gal", Spoons.LABEL, "2 tsp/gal (label spoon 5 mL, US gallon) = 2.642 mL/L"),
        ("2 tsp/gal", Spoons.CUSTOMARY, "2 tsp/gal (customary spoon 4.929 mL, US gallon) = 2.604 mL/L"),
        ("1 tbsp/imp gal", Spoons.LABEL, "1 tbsp/imp gal (label spoon 15 mL, imperial gallon) = 3.3 mL/L"),
        ("1 fl oz/gal", Spoons.LABEL, "1 fl oz/gal (label fluid ounce 30 mL, US gallon) = 7.925 mL/L"),
        ("1 US fl oz/gal", Spoons.LABEL, "1 US fl oz/gal (US fluid ounce 29.57 mL, US gallon) = 7.812 mL/L"),
        ("4 mL/L", Spoons.LABEL, "4 mL/L"),
    ],
)
def test_a_reading_shows_by_which_convention_it_was_read(text: str, spoons: Spoons, shown: str) -> None:
    reading = read(text, wanted.MILLILITRES_PER_LITRE, spoons)
    assert (reading.text, reading.shown) == (text, shown)
