"""Weighings that are wrong: each slip is named with its line and a remedy, and sound ones pass."""

from collections.abc import Callable
from dataclasses import replace
from random import Random

import pytest

from controller.measure.bench_weighings import slip_of_one, slips, units_note
from controller.measure.weighed_delivery import WeighedDelivery, WeighingsRefused
from controller.measure.weighing_table import COLUMNS, EXAMPLE, read_table

G_PER_COUNT = 0.05
COUNTS = (80, 400, 800)
Series = list[WeighedDelivery]


def sound(seed: int = 1, times: int = 10) -> Series:
    drawn = Random(seed)
    return [
        WeighedDelivery(line, counts, round(counts * G_PER_COUNT * (1 + drawn.gauss(0, 0.004)), 2))
        for line, counts in enumerate(COUNTS * times, start=1)
    ]


def typed(series: Series, place: int, grams: float, text: str = "") -> Series:
    return [replace(one, grams=grams, typed=text) if one.line == place else one for one in series]


def shown(seed: int, digit_g: float, cv: float, times: int, *, blocks: bool) -> Series:
    """What a balance shows of honest deliveries: volumes one after the other, or in turn."""
    drawn, found = Random(seed), []
    order = [counts for counts in COUNTS for _ in range(times)] if blocks else COUNTS * times
    decimals = {0.01: 2, 0.1: 1, 1.0: 0}[digit_g]
    for line, counts in enumerate(order, start=1):
        text = f"{round(counts * 0.06 * drawn.gauss(1, cv) / digit_g) * digit_g:.{decimals}f}"
        found.append(WeighedDelivery(line, counts, float(text), None, text))
    return found


@pytest.mark.parametrize("digit_g", [0.01, 0.1, 1.0])
@pytest.mark.parametrize("cv", [0.001, 0.002, 0.005])
def test_at_most_two_of_a_hundred_honest_series_are_refused_on_any_balance(digit_g: float, cv: float) -> None:
    for times in (5, 10):
        refused = sum(
            bool(slips(shown(seed, digit_g, cv, times, blocks=seed % 2 == 0), 0.06, digit_g))
            for seed in range(200)
        )
        # 2 % of 200, and two standard deviations of a binomial count above them.
        assert refused <= 4 + 2 * 2, (times, refused)


def test_four_weights_alike_make_no_outlier_of_one_that_shows_a_digit_less() -> None:
    texts = ["4.80"] * 4 + ["4.79"] + ["19.98", "20.03", "20.01", "19.96", "20.02"] + ["40.05", "39.97"]
    texts += ["40.02", "39.94", "40.03"]
    series = [
        WeighedDelivery(line, COUNTS[(line - 1) // 5], float(text), None, text)
        for line, text in enumerate(texts, start=1)
    ]
    series = [replace(one, counts=96) if one.counts == 80 else one for one in series]
    assert slips(series, G_PER_COUNT) == ()
    far = [replace(one, grams=4.5, typed="4.50") if one.line == 5 else one for one in series]
    assert [(slip.line, "outlier" in slip.problem) for slip in slips(far, G_PER_COUNT)] == [(5, True)]


@pytest.mark.parametrize("seed", range(20))
def test_rows_entered_twice_are_found_and_coarse_weights_that_are_alike_are_not(seed: int) -> None:
    for blocks in (True, False):
        fine = shown(seed, 0.01, 0.003, 10, blocks=blocks)
        for copied in (fine[10:20], fine):
            found = slips([*fine, *copied], 0.06)
            assert "stand already" in "".join(slip.problem for slip in found)
        coarse = shown(seed, 1.0, 0.003, 10, blocks=blocks)
        assert all("stand already" not in slip.problem for slip in slips(coarse, 0.06))


@pytest.mark.parametrize(
    ("made", "line", "words"),
    [
        (lambda s: [sum(one.grams for one in s[: at + 1]) for at in range(len(s))], 2, "those before it"),
        (lambda s: [one.grams + 112.4 for one in s], 0, "same 112.4 g"),
        (lambda s: [one.grams + 3.0 for one in s], 0, "same 3 g"),
    ],
)
def test_a_balance_that_was_not_tared_is_named_as_such(
    made: Callable[[Series], list[float]], line: int, words: str
) -> None:
    for series in (sound(times=5), sorted(sound(times=5), key=lambda one: one.counts)):
        spoilt = [
            replace(one, line=place, grams=round(grams, 2), typed="")
            for place, (one, grams) in enumerate(zip(series, made(series), strict=True), start=1)
        ]
        (found,) = slips(spoilt, G_PER_COUNT)
        assert "not tared" in found.problem
        assert words.split()[0] in found.problem
        assert (found.line, "tare before each delivery" in found.remedy) == (line, True)


@pytest.mark.parametrize(
    ("spoil", "line", "words"),
    [
        (lambda s: typed(s, 5, 200.4), 5, "ten times too large"),
        (lambda s: typed(s, 5, 2.004), 5, "ten times too small"),
        (lambda s: typed(s, 5, 0.02004), 5, "kilograms"),
        (lambda s: typed(s, 5, 20040.0), 5, "milligrams"),
        (lambda s: typed(s, 5, 0.7069), 5, "ounces"),
        (lambda s: typed(s, 6, 93.89, "93.89"), 6, "changed places"),
        (lambda s: typed(s, 9, -40.1), 9, "below zero"),
        (lambda s: typed(s, 9, 0.0), 9, "0 g"),
        (lambda s: typed(s, 9, float("nan")), 9, "no weight"),
        (lambda s: typed(s, 8, 20.9), 8, "outlier"),
        (lambda s: [replace(one, counts=0) if one.line == 3 else one for one in s], 3, "0 counts"),
        (lambda s: s[:12], 10, "at least 5"),
        (lambda s: [one for one in s if one.counts != 400], 0, "at least 3"),
        (lambda s: [*s, *s[:5]], 1, "stand already"),
        (lambda s: [replace(one, grams=one.grams / 1000) for one in s], 0, "kilograms"),
        (lambda s: [replace(one, grams=one.grams * 1000) for one in s], 0, "milligrams"),
        (lambda s: [replace(one, grams=one.grams * 2.4) for one in s], 0, "times what the present setting"),
        (lambda s: [replace(one, grams=one.grams * (1 + 0.001 * one.line)) for one in s], 0, "drift"),
    ],
)
def test_each_slip_is_named_with_its_line(spoil: Callable[[Series], Series], line: int, words: str) -> None:
    found = slips(spoil(sound()), G_PER_COUNT)
    assert found
    assert (found[0].line, words in found[0].problem) == (line, True), found[0]
    assert found[0].remedy


def test_a_whole_volume_in_the_wrong_unit_is_named_line_by_line() -> None:
    spoilt = [replace(one, grams=one.grams / 1000) if one.counts == 80 else one for one in sound()]
    found = slips(spoilt, G_PER_COUNT)
    assert [slip.line for slip in found] == [one.line for one in spoilt if one.counts == 80]
    assert all("kilograms" in slip.problem for slip in found)


def test_a_balance_that_always_shows_the_same_is_named() -> None:
    stuck = [replace(one, grams=20.0) if one.counts == 400 else one for one in sound()]
    (found,) = slips(stuck, G_PER_COUNT)
    assert "all 10 weights of 400 counts are 20 g" in found.problem


def test_millilitres_typed_for_grams_are_only_noted() -> None:
    ml = [replace(one, grams=round(one.grams / 1.25, 2)) for one in sound()]
    assert slips(ml, G_PER_COUNT) == ()
    assert "millilitres" in (units_note(ml, G_PER_COUNT, 1.25) or "")
    assert units_note(sound(), G_PER_COUNT, 1.25) is None
    assert units_note(sound(), G_PER_COUNT, 0.998) is None


@pytest.mark.parametrize(("grams", "words"), [(200.0, "ten times"), (0.02, "kilograms"), (33.0, "expected")])
def test_a_plain_slip_is_told_as_it_is_typed(grams: float, words: str) -> None:
    found = slip_of_one(WeighedDelivery(4, 400, grams), 20.0)
    assert found is not None
    assert words in found.problem
    assert slip_of_one(WeighedDelivery(4, 400, 21.0), 20.0) is None


def test_the_example_reads_and_is_sound() -> None:
    series = read_table(EXAMPLE, "example")
    assert len(series) == 15
    assert (series[0].counts, series[0].grams, series[0].liquid_c, series[0].line) == (96, 4.79, 20.5, 4)
    assert slips(series, G_PER_COUNT) == ()


def test_semicolons_and_a_mark_at_the_beginning_are_read() -> None:
    (one,) = read_table("\ufeffcounts;grams\n80;4.01\n", "x")
    assert (one.counts, one.grams) == (80, 4.01)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "holds no weighings"),
        ("counts,ml\n80,4\n", "no column grams"),
        ("counts,grams,ml\n80,4,4\n", "unknown column ml"),
        ("counts,grams,counts\n80,4,4\n", "twice"),
        ("counts,grams\n80,4.0 g\n", "without a unit"),
        ("counts;grams\n80;4,01\n", "a point for decimals"),
        ("counts,grams\n80,4,01\n", "3 entries for 2 columns"),
        ("counts,grams\n80,four\n", "is no number"),
        ("counts,grams\n80,nan\n", "is no number"),
        ("counts,grams\n80,1e3\n", "is no number"),
        ("counts,grams\n80,\n", "is empty"),
        ("counts,grams\n80\n", "is empty"),
        ("counts,grams\n80.5,4\n", "whole number of counts"),
        ("counts,grams,liquid_c\n80,4,68\n", "1 to 40"),
    ],
)
def test_a_table_that_cannot_be_read_says_where_and_why(text: str, words: str) -> None:
    with pytest.raises(WeighingsRefused, match=words) as refused:
        read_table(text, "pump.csv")
    assert str(refused.value).startswith("pump.csv: ")


def test_every_faulty_line_is_told_at_once() -> None:
    with pytest.raises(WeighingsRefused) as refused:
        read_table("counts,grams\n80,x\n80,4.0\n80,y\n", "pump.csv")
    assert [slip.line for slip in refused.value.slips] == [2, 4]
    assert "counts" in COLUMNS
