"""How often the manifold is rinsed after a dose, and how fully.

Elementary dilution: each rinse of V_w into a hold-up of V_r leaves the share V_r / (V_r + V_w).
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from controller.plan.findings import Refusal, Rule
from controller.plan.order import must_not_meet
from controller.plan.words import plain_ml
from controller.settings.numbers import plain_number
from controller.settings.values import Manifold, Recipe, Site

FULL_RECOVERY = 0.999
# More than this is no rinse but a drip: the rinse is far too small for its line.
MOST_RINSES = 20


def share_left(holdup_ml: float, rinse_ml: float, times: int) -> float:
    """Return the share of the hold-up's concentrate that is still there after `times` rinses."""
    return (holdup_ml / (holdup_ml + rinse_ml)) ** times


def rinse_times(holdup_ml: float, rinse_ml: float, recovery: float) -> int:
    """Return the fewest rinses, at least 1, that bring out the wanted share.

    Raises ValueError when no number of rinses can.
    """
    if not (0.0 <= recovery < 1.0 and rinse_ml > 0.0 and holdup_ml >= 0.0):
        raise ValueError(f"no rinse of {rinse_ml:g} mL recovers {recovery:g} of {holdup_ml:g} mL")
    left = share_left(holdup_ml, rinse_ml, 1)
    if left <= 1.0 - recovery:
        return 1
    guess = math.log1p(-recovery) / math.log(left)
    times = max(1, math.floor(guess))
    # A whole number of rinses must not become one more by a rounding error of the logarithms.
    while share_left(holdup_ml, rinse_ml, times) > (1.0 - recovery) * (1.0 + 1e-12):
        times += 1
    return times


def full_recovery(manifold: Manifold) -> float:
    """Return the recovery where the next liquid must not meet this one."""
    return max(manifold.recovery, FULL_RECOVERY)


def rinses_after(manifold: Manifold, *, full: bool) -> int:
    """Return the number of rinses after one dose."""
    wanted = full_recovery(manifold) if full else manifold.recovery
    return rinse_times(manifold.holdup_ml, manifold.rinse_ml, wanted)


def full_rinses(site: Site, recipe: Recipe) -> tuple[bool, ...]:
    """Say for each addition whether it needs the full rinse: what may come next must not meet it."""
    inputs = [site.inputs[addition.input] for addition in recipe.additions]
    trims = [site.inputs[name] for name in (recipe.trim_acid, recipe.trim_base) if name is not None]
    wanted = []
    for place, liquid in enumerate(inputs):
        after = inputs[place + 1 : place + 2]
        if not liquid.living and not any(other.living is False for other in after):
            after = after + trims
        wanted.append(any(must_not_meet(liquid, other) for other in after))
    return tuple(wanted)


def rinse_findings(site: Site) -> Iterator[Refusal]:
    """Refuse a rinse that cannot do what is asked of it."""
    manifold = site.rig.manifold
    if not 0.0 <= manifold.recovery < 1.0:
        yield Refusal(
            Rule.RINSE,
            "rig.toml: manifold.recovery",
            f"{plain_number(manifold.recovery * 100.0)} %",
            "no number of rinses recovers everything; ask for less than 100 %, such as 99 %",
        )
        return
    least_left = (1.0 - full_recovery(manifold)) ** (1.0 / MOST_RINSES)
    if not (manifold.rinse_ml > 0.0 and share_left(manifold.holdup_ml, manifold.rinse_ml, 1) <= least_left):
        yield Refusal(
            Rule.RINSE,
            "rig.toml: manifold.rinse",
            f"{MOST_RINSES} times {plain_ml(manifold.rinse_ml)} does not clear "
            f"{plain_ml(manifold.holdup_ml)} of line",
            "rinse with about as much as the line holds, or more",
        )
