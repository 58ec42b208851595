"""A balance that was not tared: weights that carry on from one delivery to the next, or all hold a beaker.

Corrects nothing. Other slips are `bench_weighings.py`.
"""

from __future__ import annotations

import statistics
from collections.abc import Iterator, Sequence
from itertools import pairwise

from controller.measure.weighed_delivery import Slip, WeighedDelivery, by_counts

LIKE_SETTING = 1.5
"""So far, as a factor, the amounts told may lie off the present setting (assumed)."""
BEAKER_SHARE = 0.5
"""What all weights hold in common is a beaker from so much of the smallest delivery on (assumed): what a tube
gives beyond its counts is a few drops."""
REMEDY = "tare before each delivery, so that every number is the weight of that delivery alone"


def not_tared(deliveries: Sequence[WeighedDelivery], g_per_count: float) -> Iterator[Slip]:
    """Find a series that was weighed without tare; `g_per_count` is what the present setting expects."""
    if _is_running_total(deliveries, g_per_count):
        first = deliveries[1]
        problem = f"the balance was not tared: from {first.shown} on each weight holds those before it"
        yield Slip(first.line, problem, REMEDY)
        return
    beaker_g = _beaker_g(deliveries, g_per_count)
    if beaker_g is not None:
        problem = f"the balance was not tared: every weight holds the same {beaker_g:.4g} g, a beaker perhaps"
        yield Slip(0, problem, REMEDY)


def _is_running_total(deliveries: Sequence[WeighedDelivery], g_per_count: float) -> bool:
    """Tell whether nearly every step from weight to weight, and hardly a weight, is one delivery.

    Nearly: the beaker may have been emptied on the way.
    """
    steps = [
        _like(after.grams - before.grams, after.counts * g_per_count)
        for before, after in pairwise(deliveries)
    ]
    weights = [_like(one.grams, one.counts * g_per_count) for one in deliveries[1:]]
    return sum(steps) >= 0.8 * len(steps) and sum(weights) <= 0.5 * len(weights)


def _beaker_g(deliveries: Sequence[WeighedDelivery], g_per_count: float) -> float | None:
    """Give what a line through the medians of the volumes leaves at no counts, if that is a beaker."""
    medians = [
        (counts, statistics.median(group))
        for counts, group in by_counts(deliveries, [one.grams for one in deliveries]).items()
    ]
    (few, low_g), (many, high_g) = medians[0], medians[-1]
    slope = (high_g - low_g) / (many - few)
    common_g = low_g - slope * few
    straight = all(
        abs(common_g + slope * counts - grams) <= 0.1 * slope * counts for counts, grams in medians
    )
    if not straight or not _like(slope, g_per_count) or common_g < BEAKER_SHARE * slope * few:
        return None
    return common_g


def _like(amount: float, expected: float) -> bool:
    return expected / LIKE_SETTING <= amount <= expected * LIKE_SETTING
