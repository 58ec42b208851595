"""From recipe lines to planned additions: amounts, rinses, rates and mixing, each by its own rule.

The one place where what the rules say about one addition is put together.
"""

from __future__ import annotations

from controller.plan.amounts import amount_ml
from controller.plan.mixing import is_suspension, mix_s
from controller.plan.order import precipitate
from controller.plan.pace import dose_pace
from controller.plan.rinsing import full_rinses, rinses_after
from controller.plan.steps import PlannedAddition
from controller.plan.stock import dosed_ml, is_agitated
from controller.plan.tonight import Tonight, usable_ml
from controller.plan.water import Portion, WaterShares, contents_after
from controller.settings.values import Recipe, Site


def portions_of(site: Site, recipe: Recipe, tonight: Tonight, added_l: float) -> tuple[Portion, ...]:
    """Work out what each line of the recipe brings into the tank."""
    manifold = site.rig.manifold
    portions = []
    for addition, full in zip(recipe.additions, full_rinses(site, recipe), strict=True):
        liquid = site.inputs[addition.input]
        need_ml = amount_ml(addition.rate_ml_l, added_l)
        portions.append(
            Portion(
                ml=dosed_ml(site.policy.stock, need_ml, usable_ml(tonight, liquid)),
                rinses=rinses_after(manifold, full=full),
                rinse_ml=manifold.rinse_ml,
                living=liquid.living,
            )
        )
    return tuple(portions)


def planned_additions(
    site: Site, recipe: Recipe, shares: WaterShares, portions: tuple[Portion, ...]
) -> tuple[PlannedAddition, ...]:
    """Put each addition together; it is mixed for the content that the tank then has."""
    planned = []
    inputs = [site.inputs[addition.input] for addition in recipe.additions]
    contents_l = contents_after(shares, portions)
    for place, (addition, portion) in enumerate(zip(recipe.additions, portions, strict=True)):
        liquid = inputs[place]
        suspension = is_suspension(liquid.form)
        pace = dose_pace(site, liquid, site.rig.pumps[liquid.pump])
        complete = any(precipitate(liquid, after) for after in inputs[place + 1 : place + 2])
        planned.append(
            PlannedAddition(
                input=liquid.name,
                title=liquid.title,
                rate_ml_l=addition.rate_ml_l,
                rate_text=addition.rate_text,
                ml=portion.ml,
                pump=liquid.pump,
                dose_ml_min=pace.ml_min,
                pace_limit=pace.limit.value,
                agitate_s=liquid.agitate_s if is_agitated(liquid) else 0.0,
                rinses=portion.rinses,
                rinse_ml=portion.rinse_ml,
                mix_s=mix_s(site, contents_l[place], suspension=suspension, complete=complete),
                living=liquid.living,
            )
        )
    return tuple(planned)
