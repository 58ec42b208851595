"""One round of trimming pH: agitate, dose, rinse, mix, settle, measure, trim; or one of waiting only.

How much acid or base to give is not decided here, only what must happen around it.
"""

from __future__ import annotations

from controller.plan.making import (
    agitate_steps,
    dose_step,
    plain_mix,
    rinse_step,
    settle_and_measure,
    trim_step,
)
from controller.plan.mixing import is_suspension, mix_s
from controller.plan.rinsing import rinses_after
from controller.plan.steps import AnyStep, Mix, Purpose, Trim
from controller.settings.values import Input, Site


def trim_round(
    site: Site,
    input_name: str,
    ml: float,
    ph_low: float,
    ph_high: float,
    acid: str | None,
    base: str | None,
    *,
    before_rebound: bool = False,
) -> tuple[AnyStep, ...]:
    """Return the steps of one trim with `ml` of an acid or base.

    The line is rinsed fully, for the next trim may be the opposite one. Mixing is for a tank filled to
    its working volume, the longest it can be; a slow-dissolving base is stirred longer by the site's
    `base_wait_s`, since it dissolves while it is stirred and not while it lies on the floor.
    """
    liquid = site.inputs[input_name]
    return (
        *agitate_steps(liquid, 0.0),
        dose_step(site, liquid, ml, Purpose.TRIM),
        rinse_step(site, input_name, rinses_after(site.rig.manifold, full=True)),
        _mix(site, liquid),
        *settle_and_measure(site),
        trim_step(ph_low, ph_high, acid, base, before_rebound=before_rebound),
    )


def wait_round(site: Site, trim: Trim) -> tuple[AnyStep, ...]:
    """Return the steps that give what was dosed more time to dissolve, and judge again by the same `trim`."""
    stir_s = max(site.policy.mixing.base_wait_s, site.policy.mixing.min_mix_s)
    return (
        plain_mix("Let what was dosed dissolve", stir_s, air=False),
        *settle_and_measure(site),
        trim,
    )


def _mix(site: Site, liquid: Input) -> Mix:
    suspension = is_suspension(liquid.form)
    stir_s = mix_s(site, site.rig.tank.working_l, suspension=suspension, complete=True)
    if liquid.slow_dissolving:
        stir_s += site.policy.mixing.base_wait_s
    # What else is in the tank is not known here, and it may foam or live: no air.
    return plain_mix(f"Mix {liquid.title} in", stir_s, air=False)
