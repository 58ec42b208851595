"""Any text at all is either refused or read to within 1e-12 of its exact size."""

import math
import re
from fractions import Fraction

from hypothesis import given, settings
from hypothesis import strategies as st

from controller.settings import wanted
from controller.settings.faults import Refused
from controller.settings.quantity import Wanted, read
from controller.settings.units import Spoons

# Exact sizes in millilitres, written out from NIST Handbook 44 App. C and 21 CFR 101.9(b)(5)(viii); the
# imperial ones from the gallon of 4.54609 L.
EVERYWHERE = {
    "mL": Fraction(1),
    "ml": Fraction(1),
    "L": Fraction(1000),
    "l": Fraction(1000),
    "uL": Fraction("0.001"),
    "\u00b5L": Fraction("0.001"),
    "\u03bcL": Fraction("0.001"),
    "gal": Fraction("3785.411784"),
    "US gal": Fraction("3785.411784"),
    "imp gal": Fraction("4546.09"),
    "qt": Fraction("946.352946"),
    "quart": Fraction("946.352946"),
    "imp qt": Fraction("1136.5225"),
    "US fl oz": Fraction("29.5735295625"),
    "imp fl oz": Fraction("28.4130625"),
}
OF_THE_SPOONS = {
    Spoons.LABEL: {"tsp": Fraction(5), "tbsp": Fraction(15), "fl oz": Fraction(30)},
    Spoons.CUSTOMARY: {
        "tsp": Fraction("4.92892159375"),
        "tbsp": Fraction("14.78676478125"),
        "fl oz": Fraction("29.5735295625"),
    },
}
UNITS = sorted({*EVERYWHERE, *OF_THE_SPOONS[Spoons.LABEL]})
PLAIN_NUMBERS = st.from_regex(r"(0|[1-9][0-9]{0,5})(\.[0-9]{1,6})?", fullmatch=True)


def size_ml(unit: str, spoons: Spoons) -> Fraction:
    return (EVERYWHERE | OF_THE_SPOONS[spoons])[unit]


def exact_rate(text: str, spoons: Spoons) -> Fraction | None:
    """Read a rate again in the plainest way, apart from the code under test."""
    unit = "([A-Za-z\u00b5\u03bc ]+?)"
    found = re.fullmatch(rf" *([0-9]+(?:\.[0-9]+)?) ?{unit} ?/ ?{unit} *", text)
    known = EVERYWHERE | OF_THE_SPOONS[spoons]
    if found is None or found[2] not in known or found[3] not in known:
        return None
    return Fraction(found[1]) * known[found[2]] / known[found[3]] * 1000


def outcome(text: str, kind: Wanted, spoons: Spoons = Spoons.LABEL) -> float | Refused:
    try:
        return read(text, kind, spoons).value
    except Refused as refused:
        return refused


@settings(max_examples=200, deadline=None)
@given(PLAIN_NUMBERS, st.sampled_from(UNITS), st.sampled_from(UNITS), st.sampled_from(Spoons))
def test_a_rate_is_refused_for_its_size_or_read_within_1e_12(
    number: str, numerator: str, denominator: str, spoons: Spoons
) -> None:
    factor = size_ml(numerator, spoons) / size_ml(denominator, spoons) * 1000
    value = outcome(f"{number} {numerator}/{denominator}", wanted.MILLILITRES_PER_LITRE, spoons)
    if isinstance(value, Refused):
        exact = Fraction(number) * factor
        assert (value.problem, exact > 500) in {("is zero", False), ("is more than 500 mL/L", True)}
    else:
        assert math.isclose(value / float(factor), float(number), rel_tol=1e-12)


NOISE = st.text(alphabet="0123456789.,/ -+eE_mLMltspbgafoziUuqµ%°½٣", max_size=14)
NEARLY_RATES = st.builds(
    "{}{}{}{}{}".format,
    st.one_of(PLAIN_NUMBERS, NOISE),
    st.sampled_from(["", " ", "  ", "\t", "\u00a0"]),
    st.one_of(st.sampled_from(UNITS), NOISE),
    st.sampled_from(["/", " / ", "//", "", " per "]),
    st.one_of(st.sampled_from(UNITS), NOISE),
)


@settings(max_examples=400, deadline=None)
@given(st.one_of(NEARLY_RATES, st.text()), st.sampled_from(Spoons))
def test_any_text_is_refused_or_means_exactly_what_it_says(text: str, spoons: Spoons) -> None:
    value = outcome(text, wanted.MILLILITRES_PER_LITRE, spoons)
    if isinstance(value, Refused):
        assert value.problem
        assert value.remedy
        return
    again = exact_rate(re.sub(" +", " ", text.replace(" per ", "/")), spoons)
    assert again is not None
    assert 0 < again <= 500
    assert math.isclose(value, float(again), rel_tol=1e-12)


@settings(max_examples=150, deadline=None)
@given(PLAIN_NUMBERS, st.sampled_from(UNITS))
def test_the_number_before_a_unit_is_never_shifted_by_spaces(number: str, unit: str) -> None:
    texts = [f"{number} {unit}", f"{number}{unit}", f"  {number}   {unit} "]
    assert len({str(outcome(text, wanted.MILLILITRES)) for text in texts}) == 1
