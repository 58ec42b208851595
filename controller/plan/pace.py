"""How fast an input may be dosed, which limit says so, and what a person is told of a thick one.

Only the pace lives here; how much is dosed is said elsewhere, how a rate becomes counts a second by the room
that meters.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from controller.plan.findings import Rule
from controller.plan.steps import PlanWarning
from controller.settings.numbers import plain_number
from controller.settings.values import Input, Pump, Recipe, Site

SUCTION_KPA = 10.0
"""What drawing a liquid through its suction tube may cost: about a metre of water, some seventh of what the
tube of such a pump can pull (7 to 8 m of water: common practice, no source; the share is assumed)."""
STAND_IN_BORE_MM, STAND_IN_M = 8.0, 1.0
"""Suction tube of a pump whose table does not say (assumed, meant to be cautious)."""
THICKEST_MPA_S = 2000.0
"""Above this one maker of roller pumps advises against them (a pump maker's note, second hand)."""


class PaceLimit(StrEnum):
    """What keeps a dose from being faster, as people read it."""

    PUMP = "pump's max"
    INPUT = "input's max"
    CARRIER = "carrier flow"
    THICKNESS = "thickness"


@dataclass(frozen=True, slots=True)
class Pace:
    """The fastest rate allowed, mL/min, and what limits it."""

    ml_min: float
    limit: PaceLimit


def dose_pace(site: Site, liquid: Input, pump: Pump) -> Pace:
    """Return the fastest rate that pump, input, carrier flow and suction tube allow, and which one it was."""
    carrier_ml_min = site.rig.stir.flow_l_min * 1000.0 / site.policy.mixing.injection_dilution
    limits = (
        Pace(liquid.max_ml_min, PaceLimit.INPUT),
        Pace(pump.max_ml_min, PaceLimit.PUMP),
        Pace(carrier_ml_min, PaceLimit.CARRIER),
        Pace(refill_ml_min(liquid, pump), PaceLimit.THICKNESS),
    )
    return min(limits, key=lambda pace: pace.ml_min)


def refill_ml_min(liquid: Input, pump: Pump) -> float:
    """Return the flow, mL/min, at which the suction tube's friction reaches SUCTION_KPA.

    A roller finds its tube full only if the liquid has followed in the meantime: the limit of a thick liquid
    is the time in which the tube recovers, so the rotor is slowed (that thick liquids lower the flow is a
    pump maker's note; thin ones do not, measured on medical pumps: Batista et al. 2015). Friction of laminar
    flow in a round tube: pressure = 128 viscosity length flow / (pi bore^4) (Hagen-Poiseuille), right for
    whatever is thick enough to be limited. Viscosity as inputs.toml says, so at the temperature that it was
    measured at; a lift is not counted.
    """
    bore_m, length_m, _ = suction_tube(pump)
    resistance_pa_s_m3 = 128.0 * liquid.viscosity_mpa_s * 1e-3 * length_m / (math.pi * bore_m**4)
    return SUCTION_KPA * 1e3 / resistance_pa_s_m3 * 1e6 * 60.0


def suction_tube(pump: Pump) -> tuple[float, float, bool]:
    """Return bore and length of a pump's suction tube, m, and whether both were written down."""
    known = pump.suction_bore_mm is not None and pump.suction_m is not None
    bore_mm = STAND_IN_BORE_MM if pump.suction_bore_mm is None else pump.suction_bore_mm
    return bore_mm * 1e-3, STAND_IN_M if pump.suction_m is None else pump.suction_m, known


def pace_findings(site: Site, recipe: Recipe) -> Iterator[PlanWarning]:
    """Tell of inputs, trims too, that are so thick that they are dosed slowly, or too thick for a pump."""
    wished = (recipe.trim_acid, recipe.trim_base)
    trims = [name for name in wished if name is not None and name in site.inputs]
    named = dict.fromkeys([*(addition.input for addition in recipe.additions), *trims])
    for name in named:
        liquid = site.inputs[name]
        pump = site.rig.pumps[liquid.pump]
        if liquid.viscosity_mpa_s > THICKEST_MPA_S:
            yield PlanWarning(
                Rule.THICK,
                f"{name} has {plain_number(liquid.viscosity_mpa_s)} mPa s, and roller pumps are advised "
                f"against above about {THICKEST_MPA_S:g}: thin it with water and raise its rate to match",
            )
        pace = dose_pace(site, liquid, pump)
        if pace.limit is PaceLimit.THICKNESS:
            yield PlanWarning(Rule.THICK, _slowed(site, liquid, pump, pace))


def _slowed(site: Site, liquid: Input, pump: Pump, pace: Pace) -> str:
    bore_m, length_m, known = suction_tube(pump)
    tube = f"a suction tube of {bore_m * 1e3:g} mm and {length_m:g} m"
    remedy = "fit a wider or shorter tube"
    if not known:
        tube += ", assumed"
        remedy = f"write `pumps.{pump.name}.suction_bore` and `suction_length` in rig.toml"
    wished_ml_min = min(pump.max_ml_min, liquid.max_ml_min)
    return (
        f"{liquid.name} ({plain_number(liquid.viscosity_mpa_s)} mPa s) is dosed at "
        f"{plain_number(pace.ml_min, 3)} mL/min and not {plain_number(wished_ml_min, 3)}, so that it can "
        f"follow through {tube}; for more, {remedy}"
    )
