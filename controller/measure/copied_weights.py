"""Weights that repeat where chance would hardly do that: rows entered twice, a balance that stands still.

What chance does is worked out from the spread of the weights and the balance's last digit.

Corrects nothing. Typing errors of single weights are `bench_weighings.py`, outliers `series_tests.py`.
"""

from __future__ import annotations

import math
import statistics
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence

from controller.measure.weighed_delivery import Slip, WeighedDelivery, by_counts

COPIED_ROWS = 5
"""Fewer rows than the deliveries of one volume are never called copies."""
COPY_CHANCE = 1e-3
"""Chance below which a repeat of weights is none any more (the site's; common practice, no source)."""
BEST_CV = 5e-4
"""No pump with rollers repeats better (assumed): so far chance is given the benefit of the doubt."""
_SPACING_SIGMA = 1.0 / 8.0


def readability_seen_g(deliveries: Sequence[WeighedDelivery], told_g: float = 0.0) -> float:
    """Give the last digit of the balance, g: as told, or what the weights as typed show if that is coarser.

    `told_g` 0: nobody told.
    """
    decimals = 0
    for one in deliveries:
        text = one.typed or f"{one.grams:g}"
        decimals = max(decimals, len(text.partition(".")[2]) if "e" not in text else 0)
    return max(10.0**-decimals, told_g)


def entered_twice(deliveries: Sequence[WeighedDelivery], readability_g: float) -> Iterator[Slip]:
    """Find rows that stand there a second time, in the same order, where chance would hardly do that."""
    rows = [(one.counts, one.grams) for one in deliveries]
    starts = range(len(rows) - COPIED_ROWS + 1)
    same = _same_by_chance(deliveries, readability_g)
    places = Counter(tuple(counts for counts, _ in rows[at : at + COPIED_ROWS]) for at in starts)
    first: dict[tuple[tuple[int, float], ...], int] = {}
    for later in starts:
        window = tuple(rows[later : later + COPIED_ROWS])
        earlier = first.setdefault(window, later)
        if later - earlier < COPIED_ROWS:
            continue
        length = _length(rows, earlier, later)
        pairs = math.comb(places[tuple(counts for counts, _ in window)], 2)
        chance = pairs * math.prod(same[counts] for counts, _ in rows[later : later + length])
        if chance < COPY_CHANCE:
            problem = f"{length} weights stand already from line {deliveries[earlier].line} on"
            yield Slip(deliveries[later].line, problem, "take out what was entered twice")
            return


def stands_still(deliveries: Sequence[WeighedDelivery], readability_g: float) -> Iterator[Slip]:
    """Find a volume whose weights are all the same, where the spread of the others makes that no chance."""
    share = max(_cv_share(deliveries), BEST_CV)
    for counts, group in by_counts(deliveries, deliveries).items():
        if len({one.grams for one in group}) > 1:
            continue
        if _all_same_chance(len(group), share * group[0].grams, readability_g) < COPY_CHANCE:
            problem = f"all {len(group)} weights of {counts} counts are {group[0].shown}"
            yield Slip(group[0].line, problem, "type what the balance showed each time, or use a finer one")


def _length(rows: Sequence[tuple[int, float]], earlier: int, later: int) -> int:
    """Count the rows that are the same from there on, up to where the first of them stand again."""
    length = COPIED_ROWS
    while (
        later + length < len(rows)
        and earlier + length < later
        and rows[earlier + length] == rows[later + length]
    ):
        length += 1
    return length


def _same_by_chance(deliveries: Sequence[WeighedDelivery], readability_g: float) -> Mapping[int, float]:
    """Give by counts the probability that two honest weights show the same digits.

    The mean of max(0, 1 - |d| / readability) over d, the difference of two normal weights: where a weight
    lies between two digits is as good as even.
    """
    found = {}
    for counts, group in by_counts(deliveries, [one.grams for one in deliveries]).items():
        apart = statistics.pstdev(group) * math.sqrt(2.0) / readability_g
        if apart == 0.0:
            found[counts] = 1.0
            continue
        inside = math.erf(1.0 / apart / math.sqrt(2.0))
        gone = apart * math.sqrt(2.0 / math.pi) * -math.expm1(-0.5 / apart**2)
        found[counts] = min(max(inside - gone, 0.0), 1.0)
    return found


def _cv_share(deliveries: Sequence[WeighedDelivery]) -> float:
    """Give the least scatter, as a share, of the volumes that scatter; 0 if none does."""
    groups = by_counts(deliveries, [one.grams for one in deliveries]).values()
    shares = [statistics.stdev(group) / statistics.fmean(group) for group in groups if len(set(group)) > 1]
    return min(shares, default=0.0)


def _all_same_chance(count: int, sigma_g: float, readability_g: float) -> float:
    """Give the probability that `count` normal weights show the same digits, wherever their mean lies.

    The mean over where the true mean lies within a digit, of the sum over digits of their probability to the
    power of `count`: one integral over all places of a digit, by the rectangle rule.
    """
    if sigma_g == 0.0:
        return 1.0
    half = readability_g / sigma_g / 2.0
    step = max(_SPACING_SIGMA, half / 32.0)
    reach = half + 8.0
    places = (number * step for number in range(-int(reach / step), int(reach / step) + 1))
    total = math.fsum((_normal_cdf(place + half) - _normal_cdf(place - half)) ** count for place in places)
    return min(total * step / (2.0 * half), 1.0)


def _normal_cdf(z: float) -> float:
    return 0.5 * math.erfc(-z / math.sqrt(2.0))
