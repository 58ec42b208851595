"""Trimming pH by hand: how large each dose is, and the lines of the card that say so.

A person has no titration curve to reckon with, so the doses follow from what was given before: far from the
window as much again as all before, near it half as much again. In water that is buffered by carbonate, from
half a pH away, a doubling ends in the window or short of it; from nearer it could end beyond.
"""

from __future__ import annotations

from collections.abc import Iterator

from controller.plan.card import Act, CardLine
from controller.plan.measure_words import dose_words, measure_words
from controller.plan.mixing import stir_by_hand_s
from controller.plan.vessel import least_credible_ml
from controller.plan.words import ml_words, time_words
from controller.settings.numbers import plain_number
from controller.settings.values import Input, Recipe, Site

FAR_PH = 0.5
NEAR_SHARE = 0.5
# Less than this share of the first dose is not worth a dose of its own, nor is a rounding of floats.
LEAST_SHARE = 1e-6


def next_trim_ml(given_ml: float, first_ml: float, cap_ml: float, *, far: bool) -> float:
    """Return the next dose after `given_ml` in all, mL; 0 when the cap is reached.

    `far` says that pH is more than FAR_PH away from the window. All amounts above 0, `given_ml` 0 or more.
    """
    wanted_ml = max(given_ml if far else given_ml * NEAR_SHARE, first_ml)
    left_ml = cap_ml - given_ml
    return min(wanted_ml, left_ml) if left_ml > first_ml * LEAST_SHARE else 0.0


def far_doses_ml(site: Site, volume_l: float) -> tuple[float, ...]:
    """Return the doses of one trim input, mL, as long as pH stays far away; the first is the careful one."""
    policy = site.policy.trim
    first_ml, cap_ml = policy.first_dose_ml_l * volume_l, policy.cap_ml_l * volume_l
    doses: list[float] = []
    while len(doses) < policy.max_trims:
        dose_ml = next_trim_ml(sum(doses), first_ml, cap_ml, far=True)
        if dose_ml <= 0:
            break
        doses.append(dose_ml)
    return tuple(doses)


def trim_inputs(site: Site, recipe: Recipe) -> tuple[Input, ...]:
    """Return the inputs that trim a recipe, the acid before the base."""
    return tuple(site.inputs[name] for name in (recipe.trim_acid, recipe.trim_base) if name is not None)


def ph_lines(site: Site, recipe: Recipe, volume_l: float, vessel_ml: float) -> Iterator[CardLine]:
    """Give the lines from the settling to the last trim."""
    policy, mixing = site.policy.trim, site.policy.mixing
    yield CardLine(Act.SETTLE, f"Let it stand for {time_words(mixing.settle_s)}, without stirring or air.")
    yield CardLine(
        Act.READ_PH,
        f"Read pH when it has moved by no more than {policy.stable_ph:g} in {time_words(policy.stable_s)}. "
        f"Wanted: {recipe.ph_low:g} to {recipe.ph_high:g}.",
    )
    sides = (
        (recipe.trim_acid, "above", recipe.ph_high + FAR_PH),
        (recipe.trim_base, "below", recipe.ph_low - FAR_PH),
    )
    for name, side, far_ph in sides:
        if name is not None:
            yield _first_line(site, site.inputs[name], side, volume_l, vessel_ml)
            yield _further_line(site, site.inputs[name], side, far_ph, volume_l, vessel_ml)


def _first_line(site: Site, liquid: Input, side: str, volume_l: float, vessel_ml: float) -> CardLine:
    mixing = site.policy.mixing
    # A slow-dissolving base dissolves while it is stirred, and hardly at all on the floor of the tank.
    stir_s = stir_by_hand_s(site, liquid) + (mixing.base_wait_s if liquid.slow_dissolving else 0.0)
    dose = measure_words(liquid.title, far_doses_ml(site, volume_l)[0], vessel_ml)
    return CardLine(
        Act.TRIM,
        f"Only if pH is {side} the window: shake, then measure {dose}; dilute 1 in "
        f"{mixing.injection_dilution:.0f}, add, stir for {time_words(stir_s)}, let it stand for "
        f"{time_words(mixing.settle_s)} and read again.",
        input=liquid.name,
    )


def _further_line(
    site: Site, liquid: Input, side: str, far_ph: float, volume_l: float, vessel_ml: float
) -> CardLine:
    policy = site.policy.trim
    first_ml, *further_ml = far_doses_ml(site, volume_l)
    text = f"Stop with {liquid.title} as soon as pH is no longer {side} the window. "
    if further_ml:
        listed = ", ".join(dose_words(ml, vessel_ml) for ml in further_ml)
        text += (
            f"If it still is, give more in the same way and read after each dose. While pH is {side} "
            f"{plain_number(far_ph, 3)}, give as much again as all before: {listed}. Nearer to the "
            f"window give half of all before, but no less than {ml_words(first_ml)}. "
        )
        if first_ml < least_credible_ml(vessel_ml):
            text += f"Measure all below {ml_words(least_credible_ml(vessel_ml))} as a dilution, as above. "
    doses = "1 dose" if policy.max_trims == 1 else f"{policy.max_trims} doses"
    text += (
        f"At most {doses} and {ml_words(policy.cap_ml_l * volume_l)} in all; if pH is still "
        f"out, do not feed it."
    )
    return CardLine(Act.TRIM, text, input=liquid.name)
