"""What a series of weighings shows that no single one does: an outlier, a drift. Corrects nothing."""

from __future__ import annotations

import math
import statistics
from collections.abc import Iterator, Sequence
from functools import lru_cache

from controller.measure.student import grubbs_limit, t_quantile
from controller.measure.weighed_delivery import Slip, WeighedDelivery, by_counts

SIGNIFICANCE = 0.01
_grubbs_limit, _t_quantile = lru_cache(64)(grubbs_limit), lru_cache(64)(t_quantile)
DRIFT_SHARE = 0.01
"""A trend over the whole series below this does not matter, however sure: volumes take turns, so that it
spoils none more than another (the site's; common practice, no source)."""


def outliers(deliveries: Sequence[WeighedDelivery], readability_g: float) -> Iterator[Slip]:
    """Find, in every volume, the weight that lies apart by Grubbs' test (ISO 5725-2: outlier at 1 %).

    The 1 % is that of the whole series, shared among its volumes (Bonferroni). Grubbs' test knows of no
    digits: what rounding does, readability / sqrt(12) (GUM F.2.2.1), is added to the spread, or four weights
    that show the same would make one that shows a digit less an outlier.
    """
    groups = by_counts(deliveries, deliveries)
    for group in groups.values():
        grams = [one.grams for one in group]
        spread_g = math.hypot(statistics.stdev(grams), readability_g / math.sqrt(12.0))
        mean_g = statistics.fmean(grams)
        farthest = max(group, key=lambda one: abs(one.grams - mean_g))
        off = abs(farthest.grams - mean_g) / spread_g
        if off > _grubbs_limit(len(group), SIGNIFICANCE / len(groups)):
            problem = (
                f"{farthest.shown} lies apart from the others, {mean_g:.4g} g on average (Grubbs' test, 1 %: "
                "an outlier as ISO 5725-2 means it)"
            )
            remedy = "repeat this delivery; look for a splash, an air bubble, a drop left at the tube"
            yield Slip(farthest.line, problem, remedy)


def drift(deliveries: Sequence[WeighedDelivery]) -> Iterator[Slip]:
    """Find a trend over the order of weighing: a line through the shares off the mean of each volume.

    Student's t of its slope at 1 % (ordinary linear regression); the means cost a degree of freedom each.
    """
    groups = by_counts(deliveries, list(enumerate(deliveries)))
    places, shares = [], []
    for group in groups.values():
        mean_place = statistics.fmean(place for place, _ in group)
        mean_g = statistics.fmean(one.grams for _, one in group)
        places += [place - mean_place for place, _ in group]
        shares += [one.grams / mean_g - 1.0 for _, one in group]
    width = math.fsum(place * place for place in places)
    slope = math.fsum(place * share for place, share in zip(places, shares, strict=True)) / width
    dof = len(places) - len(groups) - 1
    left = math.fsum((share - slope * place) ** 2 for place, share in zip(places, shares, strict=True))
    slope_deviation = math.sqrt(left / dof / width)
    over_series = slope * (len(places) - 1)
    sure = abs(slope) > _t_quantile(1.0 - SIGNIFICANCE / 2.0, dof) * slope_deviation
    if sure and abs(over_series) > DRIFT_SHARE:
        problem = f"the weights drift by {over_series * 100:+.1f} % over the series"
        remedy = (
            "let the balance warm up and level it, keep draughts off, cover the beaker, prime until the tube "
            "has settled; then weigh the series again"
        )
        yield Slip(0, problem, remedy)
