"""Whether a measuring vessel suits a batch by hand, and which of the common ones suits it best."""

from __future__ import annotations

import math
from collections.abc import Iterator

from controller.plan.by_hand_trim import far_doses_ml, trim_inputs
from controller.plan.by_hand_water import share_by_hand
from controller.plan.findings import PlanRefused, Refusal, Rule
from controller.plan.vessel import MANY_POURS, MOST_POURS, dilution_steps, rounded_up_ml
from controller.plan.words import ml_words, plain_ml
from controller.settings.values import Recipe, Site

# Common sizes of measuring cylinders and jugs, and the usual jug (common practice, no source).
COMMON_VESSELS_ML = (10.0, 25.0, 50.0, 100.0, 250.0, 500.0, 1000.0)
USUAL_VESSEL_ML = 500.0


def pour_findings(site: Site, recipe: Recipe, volume_l: float, vessel_ml: float) -> Iterator[Refusal]:
    """Refuse a vessel that is so small that nobody would count its pours right; name one that does."""
    amounts_ml = {line.input: line.rate_ml_l * volume_l for line in recipe.additions}
    for liquid in trim_inputs(site, recipe):
        amounts_ml[liquid.name] = max(amounts_ml.get(liquid.name, 0.0), *far_doses_ml(site, volume_l))
    if not amounts_ml:
        return
    name = max(amounts_ml, key=lambda name: amounts_ml[name])
    # A vessel that is named below must not be refused for a rounding of floats.
    if amounts_ml[name] > MOST_POURS * vessel_ml * (1.0 + 1e-9):
        least_ml = rounded_up_ml(amounts_ml[name] / MOST_POURS)
        yield Refusal(
            Rule.VESSEL,
            "measuring vessel",
            f"{plain_ml(vessel_ml)} would take more than {MOST_POURS} pours for "
            f"{ml_words(amounts_ml[name])} of {name}",
            f"take a vessel of at least {plain_ml(least_ml)}",
        )


def fitting_vessel_ml(site: Site, recipe: Recipe, volume_l: float) -> float:
    """Return the common vessel, mL, that suits this recipe and volume best.

    It can be used at all, asks for as few dilutions and then for as few pours beyond many as can be, and is
    near to the usual jug. For what no common vessel can measure, it is the one that comes nearest.
    """
    amounts_ml = [line.rate_ml_l * volume_l for line in recipe.additions]
    if not amounts_ml and trim_inputs(site, recipe):
        amounts_ml = list(far_doses_ml(site, volume_l)[:1])

    def faults(vessel_ml: float) -> tuple[bool, int, float, float]:
        return (
            not _usable(site, recipe, volume_l, vessel_ml),
            sum(dilution_steps(ml, vessel_ml) for ml in amounts_ml),
            sum(max(ml / vessel_ml - MANY_POURS, 0.0) for ml in amounts_ml),
            abs(math.log(vessel_ml / USUAL_VESSEL_ML)),
        )

    return min(COMMON_VESSELS_ML, key=faults)


def _usable(site: Site, recipe: Recipe, volume_l: float, vessel_ml: float) -> bool:
    if any(True for _ in pour_findings(site, recipe, volume_l, vessel_ml)):
        return False
    try:
        share_by_hand(site, recipe, volume_l, vessel_ml)
    except PlanRefused:
        return False
    return True
