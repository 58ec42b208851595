"""Weighings as a person wrote them down, and what is wrong with them: slips of the pen, units, too few.

Names the line and the remedy; corrects nothing. Outliers and drift are `series_tests.py`, weights that repeat
`copied_weights.py`, a balance without tare `tare_slips.py`; what sound weighings say is
`pump_calibration.py`.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Callable, Iterator, Sequence
from itertools import chain, pairwise

from controller.measure.copied_weights import entered_twice, readability_seen_g, stands_still
from controller.measure.gravimetry import OUNCE_G
from controller.measure.series_tests import drift, outliers
from controller.measure.tare_slips import not_tared
from controller.measure.weighed_delivery import Slip, WeighedDelivery, by_counts

LEAST_VOLUMES = 3
LEAST_DELIVERIES = 5
NEAR_SHARE = 0.05
"""So far a weight may lie off what a slip of the pen would explain, and off its like to be asked about."""
SETTING_FACTOR = 1.5
"""A series whose every weight is this many times what the setting says is a slip, and no tube (assumed)."""

_FACTORS = (
    (1e-3, "looks like kilograms"),
    (1e3, "looks like milligrams"),
    (10.0, "looks ten times too large"),
    (0.1, "looks ten times too small"),
    (100.0, "looks a hundred times too large"),
    (0.01, "looks a hundred times too small"),
    (1.0 / OUNCE_G, "looks like ounces"),
)


def slips(
    deliveries: Sequence[WeighedDelivery], g_per_count: float, readability_g: float = 0.0
) -> tuple[Slip, ...]:
    """Name what is wrong with a whole series; `g_per_count` is what the present setting expects.

    `readability_g` is the balance's last digit; 0, or finer than the weights show: as they show it. Plain
    faults come first, and what they would spoil (outliers, drift) is looked for only without them.
    """
    digit_g = readability_seen_g(deliveries, readability_g)
    checks: tuple[Callable[[], Iterator[Slip]], ...] = (
        lambda: _unfit(deliveries),
        lambda: chain(_too_few(deliveries), entered_twice(deliveries, digit_g)),
        lambda: not_tared(deliveries, g_per_count),
        lambda: _whole_series(deliveries, g_per_count),
        lambda: _odd_ones(deliveries, digit_g),
        lambda: stands_still(deliveries, digit_g),
        lambda: outliers(deliveries, digit_g),
        lambda: drift(deliveries),
    )
    return next((found for check in checks if (found := tuple(check()))), ())


def slip_of_one(one: WeighedDelivery, expected_g: float) -> Slip | None:
    """Name what is wrong with one weight as it is typed, given what is expected; None: nothing plain."""
    unfit = next(_unfit([one]), None)
    if unfit is not None:
        return unfit
    share = one.grams / expected_g
    if 1.0 / SETTING_FACTOR <= share <= SETTING_FACTOR:
        return None
    return Slip(
        one.line,
        f"{one.shown} where about {expected_g:.3g} g {_was(one, expected_g)}",
        "tare before each delivery, so that only this one is on the balance; weigh and type it again",
    )


def units_note(deliveries: Sequence[WeighedDelivery], g_per_count: float, density_kg_l: float) -> str | None:
    """Say when the numbers fit millilitres as well as grams; a worn tube may look the same: only noted."""
    if abs(density_kg_l - 1.0) < NEAR_SHARE / 2.0:
        return None
    shares = [one.grams / (one.counts * g_per_count) for one in deliveries]
    if abs(statistics.median(shares) * density_kg_l - 1.0) < NEAR_SHARE / 2.0:
        return (
            "the numbers fit millilitres as well as grams: if you typed millilitres, do not write this "
            "calibration"
        )
    return None


def _unfit(deliveries: Sequence[WeighedDelivery]) -> Iterator[Slip]:
    for one in deliveries:
        if not math.isfinite(one.grams):
            yield Slip(one.line, f"{one.typed or one.grams} is no weight", "type the grams as a plain number")
        elif one.grams < 0:
            remedy = "type it without a sign if the balance was tared with the beaker on it; else weigh again"
            yield Slip(one.line, f"{one.shown} is below zero", remedy)
        elif one.grams == 0:
            yield Slip(one.line, "0 g", "nothing was weighed: deliver again, into the beaker")
        elif one.counts <= 0:
            yield Slip(one.line, f"{one.counts} counts", "write how many counts the pump was told to turn")


def _too_few(deliveries: Sequence[WeighedDelivery]) -> Iterator[Slip]:
    groups = by_counts(deliveries, deliveries)
    if len(groups) < LEAST_VOLUMES:
        problem = f"{_counted(len(groups), 'volume')}, at least {LEAST_VOLUMES} are wanted"
        yield Slip(0, problem, "a straight line needs a small, a middle and a large one")
    for counts, group in groups.items():
        if len(group) < LEAST_DELIVERIES:
            many = _counted(len(group), "delivery")
            problem = f"{many} of {counts} counts, at least {LEAST_DELIVERIES} are wanted"
            yield Slip(group[-1].line, problem, "weigh more of this volume")


def _whole_series(deliveries: Sequence[WeighedDelivery], g_per_count: float) -> Iterator[Slip]:
    share = statistics.median(one.grams / (one.counts * g_per_count) for one in deliveries)
    if 1.0 / SETTING_FACTOR <= share <= SETTING_FACTOR:
        return
    named = next((words for factor, words in _FACTORS if abs(share / factor - 1.0) < 0.3), None)
    problem = f"the weights are {share:.3g} times what the present setting says"
    if named is not None:
        yield Slip(0, f"{problem}: it {named}", "write grams")
    else:
        remedy = (
            "check counts and weights; for a tube of another size put a first guess of per_count in rig.toml"
        )
        yield Slip(0, problem, remedy)


def _odd_ones(deliveries: Sequence[WeighedDelivery], readability_g: float) -> Iterator[Slip]:
    """Find weights that a slip of the pen explains: a unit, a point, two digits in the wrong order."""
    g_per_count = statistics.median(one.grams / one.counts for one in deliveries)
    for one in deliveries:
        usual_g = one.counts * g_per_count
        if abs(one.grams - usual_g) <= max(NEAR_SHARE * usual_g, readability_g):
            continue
        explained = _explained(one, usual_g)
        if explained is not None:
            problem = f"{one.shown} where {usual_g:.4g} g would fit the others: {explained}"
            yield Slip(one.line, problem, "look at what was written down, or repeat this delivery")


def _explained(one: WeighedDelivery, usual_g: float) -> str | None:
    share = one.grams / usual_g
    for factor, words in _FACTORS:
        if abs(share / factor - 1.0) < NEAR_SHARE:
            return f"it {words}"
    if any(abs(other / usual_g - 1.0) < NEAR_SHARE / 2.0 for other in _digits_swapped(one)):
        return "two digits may have changed places"
    return None


def _was(one: WeighedDelivery, expected_g: float) -> str:
    share = one.grams / expected_g
    named = next((words for factor, words in _FACTORS if abs(share / factor - 1.0) < 0.3), None)
    return "is expected" if named is None else f"is expected: it {named}"


def _digits_swapped(one: WeighedDelivery) -> Iterator[float]:
    """Give the numbers that stand there with two neighbouring digits exchanged."""
    text = one.typed or f"{one.grams:g}"
    places = [place for place, sign in enumerate(text) if sign.isdigit()]
    for first, second in pairwise(places):
        swapped = list(text)
        swapped[first], swapped[second] = swapped[second], swapped[first]
        try:
            yield float("".join(swapped))
        except ValueError:
            continue


def _counted(number: int, what: str) -> str:
    many = what if number == 1 else (what[:-1] + "ies" if what.endswith("y") else what + "s")
    return f"{number} {many}"
