"""What a weighed dose is worth: enough, worth a top-up, too little, too much. Pure.

`short` and the limits come from the site's policy of short stock; doubts are expanded uncertainties (k = 2).
"""

from __future__ import annotations

from enum import Enum

from controller.measure.weighing import beyond_doubt
from controller.measure.weight_loss import MISSING_SHARE
from controller.plan.steps import Purpose
from controller.plan.stock import OVER_SHARE, allowed_short_share
from controller.settings.values import StockRule


class Next(Enum):
    """What follows from an amount."""

    ENOUGH = "enough"
    TOP_UP = "top up"
    SHORT = "short"
    MISSING = "did not arrive"
    EXCESS = "too much"


def judge(
    rule: StockRule, purpose: Purpose, target_ml: float, ml: float, doubt_ml: float, topped_up: bool
) -> Next:
    """Judge an amount by weight, mL, against its target.

    What is to be acted on must be beyond doubt (five standard uncertainties): small doses that were topped up
    by the noise of a scale would scatter more than doses that were only counted. A trim is never topped up
    and never called short: the next reading of pH judges it.
    """
    short_ml, over_ml = target_ml - ml, ml - target_ml
    if over_ml > OVER_SHARE * target_ml and beyond_doubt(over_ml, doubt_ml):
        return Next.EXCESS
    if short_ml > MISSING_SHARE * target_ml and beyond_doubt(short_ml, doubt_ml):
        return Next.MISSING
    enough = short_ml <= allowed_short_share(rule) * target_ml or not beyond_doubt(short_ml, doubt_ml)
    if purpose is Purpose.TRIM or enough:
        return Next.ENOUGH
    return Next.SHORT if topped_up else Next.TOP_UP
