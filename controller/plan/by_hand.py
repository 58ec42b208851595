"""The same recipe for a person without the rig: what to do, in order, for any volume and measuring vessel.

Order rules and labels hold here as they do for the rig. How the water is shared is in `by_hand_water.py`,
how pH is trimmed in `by_hand_trim.py`, how the card looks in `card.py`.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import pairwise

from controller.plan.batch import find_recipe
from controller.plan.by_hand_trim import ph_lines
from controller.plan.by_hand_water import RINSES, HandPortion, HandWater, share_by_hand
from controller.plan.card import Act, Card, CardLine, card_text
from controller.plan.findings import Finding, Refusal, Rule, refuse_if_any
from controller.plan.measure_words import measure_words
from controller.plan.mixing import stir_by_hand_s
from controller.plan.order import order_findings, precipitate
from controller.plan.slips import slip_findings
from controller.plan.steps import PlanWarning
from controller.plan.stock import is_agitated
from controller.plan.vessel import MANY_POURS
from controller.plan.vessel_choice import pour_findings
from controller.plan.words import ml_words, time_words, volume_words
from controller.settings.numbers import plain_number
from controller.settings.values import ChlorineMethod, Form, Input, Recipe, Site

__all__ = ["by_hand_card", "card_text"]

BUCKET_ML = 10_000.0


def by_hand_card(site: Site, recipe_name: str, volume_l: float, vessel_ml: float) -> Card:
    """Return the card for `volume_l` with a measuring vessel of `vessel_ml`, both above 0.

    Raises PlanRefused with every reason at once.
    """
    recipe = find_recipe(site, recipe_name)
    figures = tuple(_figure_findings(volume_l, vessel_ml))
    said = refuse_if_any(
        (
            *figures,
            *_order_by_hand(site, recipe),
            *slip_findings(site, recipe),
            # Judged before any pour is made: a tiny vessel would take millions of them.
            *(() if figures else pour_findings(site, recipe, volume_l, vessel_ml)),
        )
    )
    water = share_by_hand(site, recipe, volume_l, vessel_ml)
    return Card(
        recipe=recipe.name,
        title=recipe.title,
        volume_l=volume_l,
        vessel_ml=vessel_ml,
        lines=tuple(_lines(site, recipe, water, volume_l, vessel_ml)),
        warnings=(*said, *_warnings(site, water)),
    )


def _figure_findings(volume_l: float, vessel_ml: float) -> Iterator[Finding]:
    for what, value, unit in (("volume", volume_l, "L"), ("measuring vessel", vessel_ml, "mL")):
        if not (math.isfinite(value) and value > 0):
            yield Refusal(Rule.FIGURES, what, f"{plain_number(value)} {unit}", "give a figure above 0")


def _order_by_hand(site: Site, recipe: Recipe) -> Iterator[Finding]:
    """Keep the refusals; the warnings speak of the rig's line, which a person does not have."""
    for finding in order_findings(site, recipe):
        if isinstance(finding, Refusal):
            yield finding
    inputs = [site.inputs[addition.input] for addition in recipe.additions]
    for before, after in pairwise(inputs):
        if precipitate(before, after):
            yield PlanWarning(
                Rule.CALCIUM,
                f"never let {before.name} and {after.name} meet in one vessel: rinse it well between them",
            )


def _warnings(site: Site, water: HandWater) -> Iterator[PlanWarning]:
    if water.dilution < site.policy.mixing.injection_dilution * (1.0 - 1e-9):
        yield PlanWarning(
            Rule.DILUTION,
            f"there is water for diluting 1 in {water.dilution:.0f} only, where the site wants 1 in "
            f"{site.policy.mixing.injection_dilution:.0f}: pour slowly while stirring",
        )
    for portion in water.portions:
        if len(portion.measure.pours_ml) > MANY_POURS:
            yield PlanWarning(
                Rule.VESSEL,
                f"{portion.input} takes {len(portion.measure.pours_ml)} pours, and pours are miscounted: "
                f"take a larger vessel",
            )


def _lines(
    site: Site, recipe: Recipe, water: HandWater, volume_l: float, vessel_ml: float
) -> Iterator[CardLine]:
    yield _first_water(site, water)
    for portion in water.portions:
        if not portion.living:
            yield from _portion_lines(site, portion, vessel_ml)
    yield _top_up_line(site, water)
    yield from ph_lines(site, recipe, volume_l, vessel_ml)
    for portion in water.portions:
        if portion.living:
            yield from _portion_lines(site, portion, vessel_ml)
    yield _use_line(site)


def _first_water(site: Site, water: HandWater) -> CardLine:
    chlorine = {
        ChlorineMethod.CARTRIDGE: "drawn through the carbon cartridge",
        ChlorineMethod.AERATED_REST: f"that has rested with air for {time_words(site.policy.water.rest_s)}",
        ChlorineMethod.ATTESTED: "known to be free of chlorine",
    }[site.policy.water.chlorine]
    low_c, high_c = site.policy.water.temperature_low_c, site.policy.water.temperature_high_c
    return CardLine(
        Act.WATER,
        f"Into the empty, clean tank put {volume_words(water.first_l)} of water, {chlorine}, at {low_c:g} to "
        f"{high_c:g} °C. Keep more of it aside for diluting, rinsing and topping up.",
        water_ml=water.first_l * 1000.0,
    )


def _top_up_line(site: Site, water: HandWater) -> CardLine:
    mark = volume_words(water.top_up_to_l)
    if water.top_up_l * 1000.0 < 0.5:
        text = f"See that the tank stands at {mark}, or bring it there with water"
    else:
        text = f"Top up with water to {mark}, which takes about {volume_words(water.top_up_l)}"
    stir = time_words(2.0 * site.policy.mixing.min_mix_s)
    return CardLine(Act.TOP_UP, f"{text}. Stir for {stir}.", water_ml=water.top_up_l * 1000.0)


def _use_line(site: Site) -> CardLine:
    keeping = site.policy.keeping
    return CardLine(
        Act.USE,
        f"Use within {time_words(keeping.max_age_s)}; stir every {time_words(keeping.stir_every_s)} "
        f"and right before feeding. Write down date, amounts and pH.",
    )


def _portion_lines(site: Site, portion: HandPortion, vessel_ml: float) -> Iterator[CardLine]:
    liquid, name = site.inputs[portion.input], portion.input
    yield CardLine(Act.SHAKE, _shake_words(liquid), input=name)
    yield _measure_line(liquid, portion, vessel_ml)
    yield _dilute_line(liquid, portion)
    yield CardLine(Act.ADD, f"Pour it slowly into the stirred tank.{_cautions(liquid)}", input=name)
    yield CardLine(
        Act.RINSE,
        f"Rinse the vessel {RINSES} times with {ml_words(portion.rinse_ml)} of water, into the tank.",
        input=name,
        water_ml=RINSES * portion.rinse_ml,
    )
    yield CardLine(Act.STIR, f"Stir for {time_words(stir_by_hand_s(site, liquid))}.", input=name)


def _shake_words(liquid: Input) -> str:
    if (liquid.form is Form.SUSPENSION or is_agitated(liquid)) and not liquid.foams:
        return f"Shake {liquid.title} until nothing sticks to the floor of the bottle; measure at once."
    gently = ", gently, for it foams" if liquid.foams else ""
    return f"Turn the bottle of {liquid.title} over until it is even throughout{gently}."


def _cautions(liquid: Input) -> str:
    words = ""
    if liquid.foams:
        words += " It foams: keep the spout at the surface, and run no air from now on."
    if liquid.living:
        words += " It is alive: no air, and no acid or base after it."
    if liquid.oxidiser:
        words += " It is an oxidiser: gloves and goggles; nothing else into this vessel."
    return words


def _measure_line(liquid: Input, portion: HandPortion, vessel_ml: float) -> CardLine:
    return CardLine(
        Act.MEASURE,
        f"For {portion.rate_text} measure {measure_words(liquid.title, portion.measure.ml, vessel_ml)}.",
        input=portion.input,
        input_ml=portion.measure.ml,
        pours_ml=portion.measure.pours_ml,
    )


def _dilute_line(liquid: Input, portion: HandPortion) -> CardLine:
    more_ml = portion.dilution_water_ml - portion.measure.water_ml
    if more_ml > 0:
        buckets = math.ceil((more_ml + portion.measure.ml) / BUCKET_ML)
        vessels = "a bucket" if buckets == 1 else f"{buckets} buckets"
        text = (
            f"Stir it into {volume_words(more_ml / 1000.0)} of water in {vessels} before it meets the tank."
        )
    else:
        text = "It is diluted enough to meet the tank."
    return CardLine(Act.DILUTE, text, input=liquid.name, water_ml=portion.dilution_water_ml)
