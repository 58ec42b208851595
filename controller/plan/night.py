"""The steps of a night in their order, from the preconditions to the keeping.

Only the order lives here; every amount and time has been worked out before.
"""

from __future__ import annotations

from controller.plan.air import air_allowed
from controller.plan.counted_only import shown_from_ml
from controller.plan.making import (
    addition_mix,
    agitate_steps,
    condition_step,
    dose_step,
    fill_step,
    final_mix,
    keep_step,
    rebound_step,
    release_step,
    rinse_step,
    settle_and_measure,
    trim_step,
)
from controller.plan.steps import AnyStep, Check, PlannedAddition, Purpose, StepKind, Trim
from controller.plan.times import CHECK_S
from controller.plan.water import WaterShares
from controller.settings.values import Input, Recipe, Site


def night_steps(
    site: Site, recipe: Recipe, shares: WaterShares, additions: tuple[PlannedAddition, ...]
) -> tuple[AnyStep, ...]:
    """Return every step of the night in order; trims are put in when they are needed."""
    before_ph = tuple(addition for addition in additions if not addition.living)
    living = tuple(addition for addition in additions if addition.living)
    inputs = tuple(site.inputs[addition.input] for addition in before_ph)
    air = air_allowed(site, inputs, shares.heel_l)
    return (
        Check(kind=StepKind.CHECK, title="Prove the preconditions", expected_s=CHECK_S),
        fill_step(site, shares.heel_l, shares.first_fill_l, top_up=False),
        condition_step(site, air=air_allowed(site, (), shares.heel_l)),
        *_addition_steps(site, before_ph, (), shares.heel_l),
        fill_step(site, shares.before_top_up_l, shares.top_up_to_l, top_up=True),
        final_mix(site, shares.top_up_to_l, inputs, air=air),
        *settle_and_measure(site),
        _trim(site, recipe, before_rebound=True),
        *_rebound_steps(site, recipe, air=air),
        *_living_steps(site, living, inputs, shares.heel_l),
        release_step(recipe),
        keep_step(site),
    )


def _addition_steps(
    site: Site, additions: tuple[PlannedAddition, ...], in_tank: tuple[Input, ...], heel_l: float
) -> tuple[AnyStep, ...]:
    """Return agitate, dose, rinse and mix of each; the mix before one agitates the bottle of the next."""
    steps: list[AnyStep] = []
    agitated_s = 0.0
    for place, addition in enumerate(additions):
        liquid = site.inputs[addition.input]
        in_tank = (*in_tank, liquid)
        after = additions[place + 1] if place + 1 < len(additions) else None
        mix = addition_mix(
            site,
            addition,
            after,
            air=air_allowed(site, in_tank, heel_l),
            looks=_looked_at(site, addition, after, in_tank),
        )
        steps += agitate_steps(liquid, agitated_s)
        steps.append(dose_step(site, liquid, addition.ml, Purpose.ADDITION))
        steps.append(rinse_step(site, addition.input, addition.rinses))
        steps.append(mix)
        agitated_s = mix.agitate_s
    return tuple(steps)


def _looked_at(
    site: Site, addition: PlannedAddition, after: PlannedAddition | None, in_tank: tuple[Input, ...]
) -> bool:
    """Tell whether the level is looked at between two additions: foam comes next, or much was only counted.

    Not once something foams; after the last one the top-up or the settling looks anyway.
    """
    if after is None or any(liquid.foams for liquid in in_tank):
        return False
    weighed = site.rig.pumps[site.inputs[addition.input].pump].scale is not None
    return site.inputs[after.input].foams or (not weighed and addition.ml >= shown_from_ml(site))


def _trim(site: Site, recipe: Recipe, *, before_rebound: bool = False) -> Trim:
    """Return a judgement whose aim lies inside the window by the site's guard at each edge."""
    guard_ph = site.policy.trim.guard_share * (recipe.ph_high - recipe.ph_low)
    return trim_step(
        recipe.ph_low + guard_ph,
        recipe.ph_high - guard_ph,
        recipe.trim_acid,
        recipe.trim_base,
        before_rebound=before_rebound,
    )


def _rebound_steps(site: Site, recipe: Recipe, *, air: bool) -> tuple[AnyStep, ...]:
    if recipe.trim_acid is None and recipe.trim_base is None:
        return ()
    return (rebound_step(site, air=air), *settle_and_measure(site), _trim(site, recipe))


def _living_steps(
    site: Site, living: tuple[PlannedAddition, ...], inputs: tuple[Input, ...], heel_l: float
) -> tuple[AnyStep, ...]:
    if not living:
        return ()
    return (*_addition_steps(site, living, inputs, heel_l), *settle_and_measure(site))
