"""How long steps take: what a step is expected to take, the duration of a plan, and the floor under it.

The floor is the shortest time in which the same batch can be mixed, measured and found good:
fill and top-up at rated flow + every pumped volume at its fastest allowed rate + mixing + one settle
+ one stable reading.
Waits that a site adds (rest, agitation, rebound, pauses, weighings, looks at the level) are in the duration
and not in the floor.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from controller.plan.pace import dose_pace
from controller.plan.steps import (
    AnyStep,
    Dose,
    Fill,
    Keep,
    Measure,
    Mix,
    Rinse,
    Settle,
)
from controller.settings.values import Input, Pump, Site, TrimPolicy

# Proving the preconditions is a matter of a few scans.
CHECK_S = 5.0
# Between two rinses the line drains to the stir loop before the next water comes.
RINSE_PAUSE_S = 2.0
# Motor and agitator come to rest for 1 s, then five samples 1 s apart: before a motion and after it.
WEIGHINGS_S = 2 * (1.0 + 4 * 1.0)
# Sixteen readings of the level, 0.4 s apart; stir and air are off for 3 s before them.
LEVEL_S = 15 * 0.4
LOOK_S = 3.0 + LEVEL_S
# A fill lets the level calm for 4 s before, and the pipe drip for 4 s after; the surface calms for 6 s more
# before the first look of the night. The top-up looks before it fills.
FIRST_FILL_WAITS_S = 4.0 + 4.0 + 6.0 + LEVEL_S
TOP_UP_WAITS_S = 4.0 + LEVEL_S + 4.0
GIVE_UP_FACTOR = 5.0
GIVE_UP_LEAST_S = 300.0


def fill_s(site: Site, litres: float) -> float:
    """Return how long the supply takes for `litres` at its rated flow, s."""
    return max(litres, 0.0) / site.rig.fill.rated_l_min * 60.0


def fill_waits_s(*, top_up: bool) -> float:
    """Return how long a fill waits with the valve shut, s: for a calm surface, the drip and the level."""
    return TOP_UP_WAITS_S if top_up else FIRST_FILL_WAITS_S


def weighings_s(site: Site, pump: Pump) -> float:
    """Return how long what one pump moves is weighed, before and after, s; nothing without a scale."""
    return WEIGHINGS_S if pump.scale in site.rig.scales else 0.0


def dose_rate_ml_min(site: Site, liquid: Input, pump: Pump) -> float:
    """Return the fastest rate that pump, input, carrier flow and suction tube allow, mL/min."""
    return dose_pace(site, liquid, pump).ml_min


def pumped_s(ml: float, rate_ml_min: float) -> float:
    """Return how long an amount takes at a rate, s."""
    return ml / rate_ml_min * 60.0


def rinse_s(times: int, each_ml: float, rate_ml_min: float) -> float:
    """Return how long the rinses take with the pauses between them, s."""
    return times * pumped_s(each_ml, rate_ml_min) + max(times - 1, 0) * RINSE_PAUSE_S


def give_up_s(trim: TrimPolicy) -> float:
    """Return how long to wait for a stable reading before giving up, s."""
    return max(GIVE_UP_FACTOR * trim.stable_s, GIVE_UP_LEAST_S)


def duration_s(steps: Sequence[AnyStep]) -> float:
    """Return the expected time from the first step to the release, s; keeping is not part of it."""
    return math.fsum(step.expected_s for step in steps if not isinstance(step, Keep))


def floor_s(steps: Sequence[AnyStep]) -> float:
    """Return the shortest time for the same batch without trims, s."""
    filling = [step.expected_s - fill_waits_s(top_up=step.top_up) for step in steps if isinstance(step, Fill)]
    dosing = [pumped_s(step.target_ml, step.rate_ml_min) for step in steps if isinstance(step, Dose)]
    rinsing = [
        pumped_s(step.times * step.each_ml, step.rate_ml_min) for step in steps if isinstance(step, Rinse)
    ]
    mixing = [step.mix_s for step in steps if isinstance(step, Mix)]
    settling = [step.settle_s for step in steps if isinstance(step, Settle)][:1]
    reading = [step.stable_s for step in steps if isinstance(step, Measure)][:1]
    return math.fsum(filling + dosing + rinsing + mixing + settling + reading)
