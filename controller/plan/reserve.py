"""The room that the top-up leaves for the trims of a night, so that the tank ends near its final volume.

How many trims there will be is decided by readings in the night; here is only what is expected of them.
"""

from __future__ import annotations

from controller.plan.rinsing import rinses_after
from controller.settings.values import Recipe, Site

# A good tank takes none, one that is remembered two or three, and a recipe that is new to the simulated demo
# five or six. Half-way between, the final volume is missed by at most three trims either way: some 0.4 % of
# the demo's tank.
EXPECTED_TRIMS = 3


def trim_reserve_l(site: Site, recipe: Recipe, final_l: float) -> float:
    """Return the volume of the expected trims, L: first doses, and the full rinse behind each.

    0 for a recipe without a trim input. Needs a rinse that can do its work.
    """
    if recipe.trim_acid is None and recipe.trim_base is None:
        return 0.0
    manifold = site.rig.manifold
    rinses_ml = rinses_after(manifold, full=True) * manifold.rinse_ml
    return EXPECTED_TRIMS * (rinses_ml + site.policy.trim.first_dose_ml_l * final_l) / 1000.0
