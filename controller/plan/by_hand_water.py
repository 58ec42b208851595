"""How a person's water is shared: into the tank first, aside for diluting and rinsing, and the top-up.

first water + top-up + every amount, its dilution water and its rinse water = the volume.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from controller.plan.findings import PlanRefused, Refusal, Rule
from controller.plan.vessel import CREDIBLE_SHARE, Measured, measured, rounded_down_ml
from controller.plan.words import ml_words, plain_l, plain_ml
from controller.settings.values import Recipe, Site

# The tank holds at least half its water before the first concentrate meets it.
LEAST_FIRST_SHARE = 0.5
RINSES = 2
# A vessel is rinsed with a tenth of itself, but never with more than 1 % of the volume in one go.
RINSE_VESSEL_SHARE = 0.1
RINSE_VOLUME_SHARE = 0.01


@dataclass(frozen=True, slots=True)
class HandPortion:
    """One input by hand, mL: its measuring, the water it is stirred into, each rinse of the vessel."""

    input: str
    rate_text: str
    living: bool
    measure: Measured
    dilution_water_ml: float
    rinse_ml: float

    @property
    def brings_ml(self) -> float:
        """Return everything this input brings into the tank, mL."""
        return self.measure.ml + self.dilution_water_ml + RINSES * self.rinse_ml


@dataclass(frozen=True, slots=True)
class HandWater:
    """The whole sharing, L. `dilution` is what the dilution water makes of each amount: 1 in so many."""

    first_l: float
    top_up_l: float
    top_up_to_l: float
    dilution: float
    portions: tuple[HandPortion, ...]


def share_by_hand(site: Site, recipe: Recipe, volume_l: float, vessel_ml: float) -> HandWater:
    """Share the water out. Raises PlanRefused when amounts, or the vessel, are too large for the volume."""
    volume_ml = volume_l * 1000.0
    measures = tuple(measured(line.rate_ml_l * volume_l, vessel_ml) for line in recipe.additions)
    rinse_ml = min(vessel_ml * RINSE_VESSEL_SHARE, volume_ml * RINSE_VOLUME_SHARE)
    amounts_ml = math.fsum(measure.ml for measure in measures)
    forced_ml = math.fsum(measure.water_ml for measure in measures)
    room_ml = volume_ml * (1.0 - LEAST_FIRST_SHARE) - amounts_ml - RINSES * rinse_ml * len(measures)
    if room_ml < forced_ml:
        raise PlanRefused((_no_room(measures, volume_l, vessel_ml),))
    wanted = tuple(_wanted_water_ml(site, measure) for measure in measures)
    scale = _scale(math.fsum(wanted), forced_ml, room_ml)
    portions = tuple(
        HandPortion(
            input=line.input,
            rate_text=line.rate_text,
            living=site.inputs[line.input].living,
            measure=measure,
            dilution_water_ml=measure.water_ml + scale * (wanted_ml - measure.water_ml),
            rinse_ml=rinse_ml,
        )
        for line, measure, wanted_ml in zip(recipe.additions, measures, wanted, strict=True)
    )
    return _with_top_up(recipe, volume_ml, portions)


def _wanted_water_ml(site: Site, measure: Measured) -> float:
    return max(measure.water_ml, measure.ml * (site.policy.mixing.injection_dilution - 1.0))


def _scale(wanted_ml: float, forced_ml: float, room_ml: float) -> float:
    """Return the share of the wanted dilution water, beyond the forced, for which there is room."""
    if wanted_ml <= room_ml:
        return 1.0
    return (room_ml - forced_ml) / (wanted_ml - forced_ml)


def _with_top_up(recipe: Recipe, volume_ml: float, portions: tuple[HandPortion, ...]) -> HandWater:
    brought_ml = math.fsum(portion.brings_ml for portion in portions)
    living_ml = math.fsum(portion.brings_ml for portion in portions if portion.living)
    first_ml = min(recipe.first_fill_share * volume_ml, volume_ml - brought_ml)
    dilutions = [1.0 + portion.dilution_water_ml / portion.measure.ml for portion in portions]
    return HandWater(
        first_l=first_ml / 1000.0,
        top_up_l=(volume_ml - brought_ml - first_ml) / 1000.0,
        top_up_to_l=(volume_ml - living_ml) / 1000.0,
        dilution=min(dilutions, default=math.inf),
        portions=portions,
    )


def _no_room(measures: tuple[Measured, ...], volume_l: float, vessel_ml: float) -> Refusal:
    if all(measure.dilution == 1 for measure in measures):
        return Refusal(
            Rule.DILUTION,
            "amounts by hand",
            f"{ml_words(math.fsum(measure.ml for measure in measures))} leave too little water in "
            f"{plain_l(volume_l)}",
            "lower the rates",
        )
    fits_ml = min(measure.ml for measure in measures) / CREDIBLE_SHARE
    return Refusal(
        Rule.VESSEL,
        "measuring vessel",
        f"{plain_ml(vessel_ml)} is too large for the small amounts of {plain_l(volume_l)}",
        f"measure with a vessel or syringe of at most {plain_ml(rounded_down_ml(fits_ml))}, or mix more",
    )
