"""The most that one dose of a pump may be: for the plan, the trims and the board's own limits alike.

Only the figure lives here; who refuses above it is told elsewhere.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from controller.settings.values import Pump, Site

# Room over the largest dose of any recipe, for a stand-in.
MARGIN = 1.1
# A stand-in is so many tenths of the night cap: a small change of a recipe leaves the board's limits alone.
TENTHS = 10


def dose_cap_ml(site: Site, pump: Pump) -> float:
    """Return the cap of one dose, mL: the pump's own `dose_cap`, or a stand-in for it.

    The stand-in covers, in a full tank, the largest addition of any recipe, any trim and the rinse, with
    10 % on top, rounded up to tenths of the night cap, which it never passes. A pump that nothing uses may
    give its night cap at once.
    """
    if pump.dose_cap_ml is not None:
        return pump.dose_cap_ml
    largest_ml = max(_doses_ml(site, pump.name), default=0.0)
    if largest_ml <= 0.0:
        return pump.night_cap_ml
    tenths = math.ceil(round(largest_ml * MARGIN / pump.night_cap_ml * TENTHS, 6))
    return min(pump.night_cap_ml, pump.night_cap_ml * tenths / TENTHS)


def _doses_ml(site: Site, pump_name: str) -> Iterator[float]:
    """Give what this pump may be asked for at once in a full tank, mL."""
    full_l, manifold = site.rig.tank.working_l, site.rig.manifold
    if manifold.rinse_pump == pump_name:
        yield manifold.rinse_ml
    for recipe in site.recipes.values():
        for addition in recipe.additions:
            if site.inputs[addition.input].pump == pump_name:
                yield addition.rate_ml_l * full_l
        for name in (recipe.trim_acid, recipe.trim_base):
            if name is not None and name in site.inputs and site.inputs[name].pump == pump_name:
                yield site.policy.trim.cap_ml_l * full_l
