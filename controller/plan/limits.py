"""Limits of the rig: tank, water, pumps.

What does not fit is refused, never cut down until it fits.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping

from controller.plan.coarse_trim import coarse_trim_findings
from controller.plan.dose_caps import dose_cap_ml
from controller.plan.findings import Finding, Refusal, Rule
from controller.plan.rinsing import rinses_after
from controller.plan.steps import PlanWarning
from controller.plan.times import dose_rate_ml_min
from controller.plan.tonight import Tonight
from controller.plan.water import STIR_COVER_L, Portion, WaterShares, holds_after_first_fill
from controller.plan.words import CLOSE, plain_l, plain_ml
from controller.settings.values import ChlorineMethod, Pump, Recipe, Site

# A sum of floats may miss the exact volume by this much.
ROUNDING_L = 1e-9
LOWER_TRIMS = "lower `trim.max_trims` in site.toml"
LOWER_CAP = "lower `trim.cap` in site.toml"


def tank_findings(site: Site, tonight: Tonight, final_l: float) -> Iterator[Finding]:
    """Judge the final volume, before any amount is known."""
    tank = site.rig.tank
    if final_l > tank.working_l:
        yield Refusal(
            Rule.FINAL_VOLUME,
            "final volume",
            f"{plain_l(final_l)} in a tank that works up to {plain_l(tank.working_l)}",
            f"mix at most {plain_l(tank.working_l)}",
        )
    if final_l <= tonight.heel_l:
        yield Refusal(
            Rule.FINAL_VOLUME,
            "final volume",
            f"{plain_l(final_l)} with a heel of {plain_l(tonight.heel_l)} leaves nothing to mix",
            "drain the heel, or mix more",
        )


def water_findings(site: Site, recipe: Recipe, shares: WaterShares) -> Iterator[Finding]:
    """Judge whether the water suffices: for the first fill, over the stir pump, through the cartridge."""
    first_water_l = shares.first_fill_l - shares.heel_l
    if shares.water_l < -ROUNDING_L:
        yield Refusal(
            Rule.FINAL_VOLUME,
            "additions, rinses, room for trims and heel together",
            f"{shares.final_l - shares.water_l:.2f} L for a final volume of {plain_l(shares.final_l)}",
            "lower the rates, rinse with less, or drain the heel",
        )
    elif shares.water_l < first_water_l - ROUNDING_L:
        yield Refusal(
            Rule.WATER_LEFT,
            "water of this batch",
            f"{shares.water_l:.2f} L, and the first fill wants {first_water_l:.2f} L",
            f"lower `first_fill` in recipes/{recipe.name}.toml, or the rates",
        )
    if not holds_after_first_fill(site, shares):
        yield Refusal(
            Rule.FIRST_FILL,
            "first fill",
            f"{shares.first_fill_l:.1f} L does not cover the stir pump, which needs "
            f"{plain_l(site.rig.tank.low_float_l + STIR_COVER_L)}",
            f"mix more, or raise `first_fill` in recipes/{recipe.name}.toml",
        )
    water, drawn_l = site.policy.water, shares.water_l + shares.rinse_l + shares.reserve_l
    if water.chlorine is ChlorineMethod.CARTRIDGE and drawn_l > water.cartridge_left_l:
        yield Refusal(
            Rule.CARTRIDGE,
            "carbon cartridge",
            f"good for {plain_l(water.cartridge_left_l)} more, and this batch draws {drawn_l:.1f} L",
            "change the cartridge and write what the new one can treat as `cartridge_left` in site.toml",
        )


def pump_findings(site: Site, recipe: Recipe, portions: tuple[Portion, ...]) -> Iterator[Finding]:
    """Judge every dose and every pump's whole night against what the pump may meter."""
    manifold = site.rig.manifold
    for addition, portion in zip(recipe.additions, portions, strict=True):
        liquid = site.inputs[addition.input]
        pump = site.rig.pumps[liquid.pump]
        yield from _smallest_dose(pump, addition.input, portion.ml)
        yield from _largest_dose(site, pump, addition.input, portion.ml)
        yield from _slowest_pace(pump, addition.input, dose_rate_ml_min(site, liquid, pump))
    for name in (recipe.trim_acid, recipe.trim_base):
        if name is not None and name in site.inputs:
            liquid = site.inputs[name]
            pump = site.rig.pumps[liquid.pump]
            yield from _slowest_pace(pump, name, dose_rate_ml_min(site, liquid, pump))
    if portions:
        rinse_pump = site.rig.pumps[manifold.rinse_pump]
        yield from _smallest_dose(rinse_pump, "rinse water", manifold.rinse_ml)
        yield from _largest_dose(site, rinse_pump, "rinse water", manifold.rinse_ml)
    for name, ml in _planned_ml(site, recipe, portions).items():
        pump = site.rig.pumps[name]
        if ml > pump.night_cap_ml:
            yield Refusal(
                Rule.NIGHT_CAP,
                f"pump {name}",
                f"{plain_ml(ml, CLOSE)} in one night, at most {plain_ml(pump.night_cap_ml)}",
                f"mix less, lower the rate, or raise `pumps.{name}.night_cap` in rig.toml on purpose",
            )


def trim_findings(
    site: Site, recipe: Recipe, shares: WaterShares, portions: tuple[Portion, ...]
) -> Iterator[PlanWarning]:
    """Warn when the pH trims that the site allows would not fit in the tank or in a pump's night.

    What bottles must hold for them is judged in `stock.py`.
    """
    names = [name for name in (recipe.trim_acid, recipe.trim_base) if name is not None]
    if not names:
        return
    policy, manifold = site.policy.trim, site.rig.manifold
    yield from coarse_trim_findings(site, recipe, names, shares.final_l)
    cap_ml = policy.cap_ml_l * shares.final_l
    rinse_ml = policy.max_trims * rinses_after(manifold, full=True) * manifold.rinse_ml
    most_l = shares.final_l - shares.reserve_l + (len(names) * cap_ml + rinse_ml) / 1000.0
    if most_l >= site.rig.tank.high_float_l:
        yield PlanWarning(
            Rule.TRIM_ROOM,
            f"with every trim used the tank would hold {most_l:.1f} L, and the high float is at "
            f"{plain_l(site.rig.tank.high_float_l)}: mix less, or {LOWER_TRIMS}",
        )
    planned_ml = _planned_ml(site, recipe, portions)
    yield from _trims_of_pump(site, manifold.rinse_pump, planned_ml, rinse_ml, LOWER_TRIMS)
    for name in names:
        yield from _trims_of_pump(site, site.inputs[name].pump, planned_ml, cap_ml, LOWER_CAP)


def _trims_of_pump(
    site: Site, name: str, planned_ml: Mapping[str, float], trims_ml: float, remedy: str
) -> Iterator[PlanWarning]:
    """Warn when a pump's planned night fits under its cap and the trims on top of it would not."""
    pump, planned = site.rig.pumps[name], planned_ml.get(name, 0.0)
    if planned <= pump.night_cap_ml < planned + trims_ml:
        yield PlanWarning(
            Rule.TRIM_ROOM,
            f"with every trim used pump {name} would move {plain_ml(planned + trims_ml, CLOSE)} in one "
            f"night, and the board stops it at {plain_ml(pump.night_cap_ml)}: {remedy}, or raise "
            f"`pumps.{name}.night_cap` in rig.toml",
        )


def _planned_ml(site: Site, recipe: Recipe, portions: tuple[Portion, ...]) -> Mapping[str, float]:
    """Return what the additions and their rinses ask of each pump in this night, mL."""
    planned_ml: defaultdict[str, float] = defaultdict(float)
    for addition, portion in zip(recipe.additions, portions, strict=True):
        planned_ml[site.inputs[addition.input].pump] += portion.ml
        planned_ml[site.rig.manifold.rinse_pump] += portion.rinses * portion.rinse_ml
    return planned_ml


def _slowest_pace(pump: Pump, what: str, rate_ml_min: float) -> Iterator[Refusal]:
    """Refuse a rate at which the motor would have to turn less than one count a second."""
    least_ml_min = pump.ml_per_count * 60.0
    if rate_ml_min < least_ml_min:
        yield Refusal(
            Rule.SLOWEST_PACE,
            f"{what} on pump {pump.name}",
            f"{rate_ml_min:g} mL/min, and the pump goes no slower than {least_ml_min:g} mL/min",
            f"raise `{what}.max` in inputs.toml, or use a finer pump",
        )


def _smallest_dose(pump: Pump, what: str, ml: float) -> Iterator[Refusal]:
    if ml < pump.min_dose_ml:
        yield Refusal(
            Rule.SMALLEST_DOSE,
            f"{what} on pump {pump.name}",
            f"{plain_ml(ml)}, and the pump meters no less than {plain_ml(pump.min_dose_ml)}",
            "mix more at once, dilute the stock and raise its rate to match, or use a finer pump",
        )


def _largest_dose(site: Site, pump: Pump, what: str, ml: float) -> Iterator[Refusal]:
    cap_ml = dose_cap_ml(site, pump)
    # One that is the night's cap as well is told as that.
    if ml > cap_ml < pump.night_cap_ml:
        yield Refusal(
            Rule.DOSE_CAP,
            f"{what} on pump {pump.name}",
            f"{plain_ml(ml, CLOSE)} in one dose, at most {plain_ml(cap_ml)}",
            f"mix less, lower the rate, or raise `pumps.{pump.name}.dose_cap` in rig.toml on purpose and "
            "write it to the board",
        )
