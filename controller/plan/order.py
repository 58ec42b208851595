"""Order rules: what may follow what in a recipe, by what an input carries or is.

A rule that is broken is a refusal with its remedy. Nothing is ever put into another order in silence:
the recipe is the grower's.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from controller.plan.findings import Finding, Refusal, Rule
from controller.plan.steps import PlanWarning
from controller.settings.values import Carried, Input, Reaction, Recipe, Site

ANIONS_OF_CALCIUM = frozenset({Carried.PHOSPHATE, Carried.SULFATE})
ACID_AND_BASE = {Reaction.ACID, Reaction.BASE}


def precipitate(one: Input, other: Input) -> bool:
    """Say whether calcium of one would meet phosphate or sulfate of the other undiluted."""
    return bool(
        (Carried.CALCIUM in one.carries and other.carries & ANIONS_OF_CALCIUM)
        or (Carried.CALCIUM in other.carries and one.carries & ANIONS_OF_CALCIUM)
    )


def acid_meets_base(one: Input, other: Input) -> bool:
    """Say whether one is an acid and the other a base."""
    return {one.reaction, other.reaction} == ACID_AND_BASE


def oxidiser_meets_reactive(one: Input, other: Input) -> bool:
    """Say whether one is an oxidiser and the other an acid or a base."""
    return (one.oxidiser and other.reaction is not Reaction.NEUTRAL) or (
        other.oxidiser and one.reaction is not Reaction.NEUTRAL
    )


def harms_living(one: Input, other: Input) -> bool:
    """Say whether one is an acid, a base or an oxidiser, and the other alive."""
    return (one.living and (other.oxidiser or other.reaction is not Reaction.NEUTRAL)) or (
        other.living and (one.oxidiser or one.reaction is not Reaction.NEUTRAL)
    )


def must_not_meet(one: Input, other: Input) -> bool:
    """Say whether two inputs must never be in the line together undiluted."""
    rules = (precipitate, acid_meets_base, oxidiser_meets_reactive, harms_living)
    return any(rule(one, other) for rule in rules)


def order_findings(site: Site, recipe: Recipe) -> Iterator[Finding]:
    """Judge the order of a recipe; every broken rule is a refusal, every care taken a warning."""
    inputs = [site.inputs[addition.input] for addition in recipe.additions]
    yield from _listed_once(recipe, inputs)
    yield from _living_last(recipe, inputs)
    yield from _neighbours(recipe, inputs)
    yield from _oxidiser_and_living(recipe, inputs)
    yield from _trim_inputs(site, recipe)


def _listed_once(recipe: Recipe, inputs: list[Input]) -> Iterator[Finding]:
    # Recipe files never come this far (settings refuse them); a Site built in code can.
    seen: set[str] = set()
    for liquid in inputs:
        if liquid.name in seen:
            yield Refusal(
                Rule.LISTED_ONCE,
                f"recipe {recipe.name}",
                f"{liquid.name} is listed more than once",
                "keep one line for it, with the whole rate",
            )
        seen.add(liquid.name)


def _living_last(recipe: Recipe, inputs: list[Input]) -> Iterator[Finding]:
    for before, after in pairwise(inputs):
        if before.living and not after.living:
            yield Refusal(
                Rule.LIVING_LAST,
                f"recipe {recipe.name}",
                f"{after.name} comes after {before.name}, which is alive",
                f"move {before.name} to the end: living inputs go in last, after pH",
            )


def _neighbours(recipe: Recipe, inputs: list[Input]) -> Iterator[Finding]:
    for before, after in pairwise(inputs):
        pair = f"{before.name} and {after.name} are neighbours"
        if acid_meets_base(before, after):
            yield Refusal(
                Rule.ACID_AND_BASE,
                f"recipe {recipe.name}",
                f"{pair}, one an acid and the other a base",
                "put a neutral input between them, or leave one to the pH trim",
            )
        if oxidiser_meets_reactive(before, after):
            yield Refusal(
                Rule.OXIDISER,
                f"recipe {recipe.name}",
                f"{pair}, one an oxidiser and the other an acid or base",
                "put a neutral input between them",
            )
        if before.name != after.name and precipitate(before, after):
            yield PlanWarning(
                Rule.CALCIUM,
                f"{pair} in one line, and calcium must not meet phosphate or sulfate undiluted: "
                f"the line is rinsed fully and the tank mixed completely between them",
            )


def _oxidiser_and_living(recipe: Recipe, inputs: list[Input]) -> Iterator[Finding]:
    oxidisers = [liquid.name for liquid in inputs if liquid.oxidiser]
    living = [liquid.name for liquid in inputs if liquid.living]
    if oxidisers and living:
        yield Refusal(
            Rule.OXIDISER,
            f"recipe {recipe.name}",
            f"{', '.join(oxidisers)} would kill {', '.join(living)}",
            "give them in different batches, with the tank drained between",
        )


def _trim_inputs(site: Site, recipe: Recipe) -> Iterator[Finding]:
    # Recipe files never come this far (settings refuse them); a Site built in code can.
    wanted = (("acid", recipe.trim_acid, Reaction.ACID), ("base", recipe.trim_base, Reaction.BASE))
    for key, name, reaction in wanted:
        if name is not None and site.inputs[name].reaction is not reaction:
            yield Refusal(
                Rule.TRIM_INPUT,
                f"recipes/{recipe.name}.toml: trim.{key}",
                f"{name} is {site.inputs[name].reaction.value}",
                f'name an input that has `reaction` = "{reaction.value}" in inputs.toml',
            )
