"""Single steps made from worked-out figures: their titles and the time they should take.

Which steps a night or a trim has, and in what order, is said in `night.py` and `trim_round.py`.
"""

from __future__ import annotations

from controller.plan.mixing import is_suspension, mix_s
from controller.plan.steps import (
    Agitate,
    Condition,
    Dose,
    Fill,
    Keep,
    Measure,
    Mix,
    PlannedAddition,
    Purpose,
    Rebound,
    Release,
    Rinse,
    Settle,
    StepKind,
    Trim,
)
from controller.plan.stock import is_agitated
from controller.plan.times import (
    LOOK_S,
    dose_rate_ml_min,
    fill_s,
    fill_waits_s,
    give_up_s,
    pumped_s,
    rinse_s,
    weighings_s,
)
from controller.plan.words import plain_ml
from controller.settings.values import ChlorineMethod, Input, Recipe, Site


def fill_step(site: Site, from_l: float, to_l: float, *, top_up: bool) -> Fill:
    """Return the run of the supply from one content to another."""
    return Fill(
        kind=StepKind.FILL,
        title=f"{'Top up' if top_up else 'Fill'} to {to_l:.1f} L",
        expected_s=fill_s(site, to_l - from_l) + fill_waits_s(top_up=top_up),
        from_l=from_l,
        to_l=to_l,
        top_up=top_up,
    )


def condition_step(site: Site, *, air: bool) -> Condition:
    """Return the conditioning of the water; `air` only where nothing in the heel may foam or live."""
    water = site.policy.water
    rest_s = water.rest_s if water.chlorine is ChlorineMethod.AERATED_REST else 0.0
    return Condition(
        kind=StepKind.CONDITION,
        title="Make the water fit",
        expected_s=rest_s,
        rest_s=rest_s,
        air=air,
        temperature_low_c=water.temperature_low_c,
        temperature_high_c=water.temperature_high_c,
        temperature_wait_s=water.temperature_wait_s,
    )


def agitate_steps(liquid: Input, had_s: float) -> tuple[Agitate, ...]:
    """Return the agitation of one bottle, or nothing where there is no agitator.

    `had_s` is what the mix before it already gave; the step still asks for the whole time.
    """
    if liquid.agitator is None or not is_agitated(liquid):
        return ()
    return (
        Agitate(
            kind=StepKind.AGITATE,
            title=f"Agitate {liquid.title}",
            expected_s=max(liquid.agitate_s - had_s, 0.0),
            input=liquid.name,
            agitator=liquid.agitator,
            agitate_s=liquid.agitate_s,
        ),
    )


def dose_step(site: Site, liquid: Input, ml: float, purpose: Purpose) -> Dose:
    """Return one dose at the fastest rate allowed."""
    pump = site.rig.pumps[liquid.pump]
    rate_ml_min = dose_rate_ml_min(site, liquid, pump)
    verb = "Trim pH with" if purpose is Purpose.TRIM else "Dose"
    return Dose(
        kind=StepKind.DOSE,
        title=f"{verb} {ml:.1f} mL of {liquid.title}",
        expected_s=pumped_s(ml, rate_ml_min) + weighings_s(site, pump),
        input=liquid.name,
        pump=liquid.pump,
        agitator=liquid.agitator,
        target_ml=ml,
        rate_ml_min=rate_ml_min,
        purpose=purpose,
    )


def rinse_step(site: Site, after_input: str, times: int) -> Rinse:
    """Return the rinses of the manifold behind one dose."""
    manifold = site.rig.manifold
    pump = site.rig.pumps[manifold.rinse_pump]
    rate_ml_min = pump.max_ml_min
    return Rinse(
        kind=StepKind.RINSE,
        title=f"Rinse the line {times} x {plain_ml(manifold.rinse_ml)}",
        expected_s=rinse_s(times, manifold.rinse_ml, rate_ml_min) + weighings_s(site, pump),
        after_input=after_input,
        pump=manifold.rinse_pump,
        times=times,
        each_ml=manifold.rinse_ml,
        rate_ml_min=rate_ml_min,
    )


def addition_mix(
    site: Site, addition: PlannedAddition, after: PlannedAddition | None, *, air: bool, looks: bool = False
) -> Mix:
    """Return the mix behind one addition; the bottle of the next is agitated at its end.

    `looks`: the level of the still tank is looked at after it.
    """
    agitates = after is not None and after.agitate_s > 0
    return Mix(
        kind=StepKind.MIX,
        title=f"Mix {addition.title} in",
        expected_s=addition.mix_s + (LOOK_S if looks else 0.0),
        mix_s=addition.mix_s,
        air=air,
        next_input=after.input if after is not None else None,
        next_agitator=site.inputs[after.input].agitator if after is not None and agitates else None,
        agitate_s=min(after.agitate_s, addition.mix_s) if after is not None else 0.0,
    )


def final_mix(site: Site, content_l: float, inputs: tuple[Input, ...], *, air: bool) -> Mix:
    """Return the mix after the top-up, to full homogeneity."""
    suspension = any(is_suspension(liquid.form) for liquid in inputs)
    return plain_mix(
        "Mix the whole tank", mix_s(site, content_l, suspension=suspension, complete=True), air=air
    )


def plain_mix(title: str, stir_s: float, *, air: bool) -> Mix:
    """Return a mix that agitates no bottle."""
    return Mix(
        kind=StepKind.MIX,
        title=title,
        expected_s=stir_s,
        mix_s=stir_s,
        air=air,
        next_input=None,
        next_agitator=None,
        agitate_s=0.0,
    )


def settle_and_measure(site: Site) -> tuple[Settle, Measure]:
    """Return the wait with stir and air off, and the reading of pH after it."""
    settle_s, trim = site.policy.mixing.settle_s, site.policy.trim
    settle = Settle(kind=StepKind.SETTLE, title="Let it settle", expected_s=settle_s, settle_s=settle_s)
    measure = Measure(
        kind=StepKind.MEASURE,
        title="Measure pH",
        expected_s=trim.stable_s,
        stable_s=trim.stable_s,
        stable_ph=trim.stable_ph,
        give_up_s=give_up_s(trim),
    )
    return settle, measure


def trim_step(
    ph_low: float, ph_high: float, acid: str | None, base: str | None, *, before_rebound: bool = False
) -> Trim:
    """Return the judgement of the reading before it; `ph_low` to `ph_high` is the aim, not the window."""
    return Trim(
        kind=StepKind.TRIM,
        title=f"Trim pH: aim for {ph_low:.2f} to {ph_high:.2f}",
        expected_s=0.0,
        ph_low=ph_low,
        ph_high=ph_high,
        acid=acid,
        base=base,
        before_rebound=before_rebound,
    )


def rebound_step(site: Site, *, air: bool) -> Rebound:
    """Return the wait in which CO2 may leave."""
    wait_s = site.policy.trim.rebound_wait_s
    return Rebound(kind=StepKind.REBOUND, title="Let CO2 leave", expected_s=wait_s, wait_s=wait_s, air=air)


def release_step(recipe: Recipe) -> Release:
    """Return the judgement of the whole tank."""
    return Release(
        kind=StepKind.RELEASE,
        title="Release the tank if it is fit",
        expected_s=0.0,
        ph_low=recipe.ph_low,
        ph_high=recipe.ph_high,
        conductivity_low_us_cm=recipe.conductivity_low_us_cm,
        conductivity_high_us_cm=recipe.conductivity_high_us_cm,
    )


def keep_step(site: Site) -> Keep:
    """Return the keeping of a released tank."""
    keeping = site.policy.keeping
    return Keep(
        kind=StepKind.KEEP,
        title="Keep until fed",
        expected_s=keeping.max_age_s,
        max_age_s=keeping.max_age_s,
        stir_every_s=keeping.stir_every_s,
        stir_s=keeping.stir_s,
    )
