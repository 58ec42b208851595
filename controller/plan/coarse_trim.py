"""Whether the pumps of the trim inputs are fine enough for a recipe: told before the night, not in it.

What a trim is in the night is decided by `controller.measure.trim`; what pumps meter well is `dose_floor.py`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from controller.plan.findings import Rule
from controller.plan.steps import PlanWarning
from controller.plan.words import plain_ml
from controller.settings.values import Recipe, Site

FIRST_DOSE_ROOM_PH = 0.5
"""With less room than this in front of the far edge a first trim is smaller; `trim_sizing.py` has it too."""
FINER = (
    "mix more at once, dilute the stock and raise `trim.first_dose` in site.toml to match, or use a "
    "finer pump"
)


def coarse_trim_findings(
    site: Site, recipe: Recipe, names: Iterable[str], final_l: float
) -> Iterator[PlanWarning]:
    """Warn of each pump whose smallest dose is more than a first trim may be, far from the window or near.

    Beside the window a first trim has only the inner width of it as room, and is smaller by as much.
    """
    policy = site.policy.trim
    inner_ph = (1.0 - 2.0 * policy.guard_share) * (recipe.ph_high - recipe.ph_low)
    first_ml = policy.first_dose_ml_l * final_l
    near_ml = first_ml * min(1.0, inner_ph / FIRST_DOSE_ROOM_PH)
    for name in names:
        pump = site.rig.pumps[site.inputs[name].pump]
        floor = f"pump {pump.name} meters no less than {plain_ml(pump.min_dose_ml)}"
        if first_ml < pump.min_dose_ml:
            text = (
                f"the first trim would be {plain_ml(first_ml)} of {name}, and {floor}, so the tank may end "
                "untrimmed and not released"
            )
        elif near_ml < pump.min_dose_ml:
            text = (
                f"just outside the window the first trim would be {plain_ml(near_ml)} of {name}, and {floor},"
                " so a tank with little buffering may end there and not released"
            )
        else:
            continue
        yield PlanWarning(Rule.TRIM_ROOM, f"{text}: {FINER}")
