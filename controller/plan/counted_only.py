"""What no scale weighs and is only counted, and from which loss on the tank's level would show it.

Before the night only a level noise can be assumed; in the night the scatter of the readings decides
(`controller.run.arrived`).
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from controller.plan.findings import Rule
from controller.plan.heel import heel_may_foam_or_live
from controller.plan.rinsing import rinses_after
from controller.plan.steps import PlanWarning
from controller.plan.water import Portion
from controller.plan.words import plain_ml
from controller.settings.values import Pump, Recipe, Site

NOISE_MM = 0.3
"""Standard deviation of one reading of the still tank's level (assumed)."""
LOOKS = 16
TOLD_AT = 6.5
"""Standard doubts that a loss must have to be told nearly always: 4.5 to be told at all, and two more."""
CALIBRATED_SHARE, UNDATED_SHARE = 0.018, 0.029
"""Standard doubt of what a pump moves, as a share: with a dated calibration, and without one."""
LEVEL_SHARE = 0.01
COUNTED_DUE_DAYS = 45
"""For so long the weighing of a pump holds whose doses nothing weighs: by 500 mL a night its tube then moves
nearly 1 % less (`tests/bench/bench_metering.py`; the wear is assumed)."""
HEEL_FOAM_MM = 1.0
"""By how much foam of an unknown heel, thinned by the first fill, may still lift the level (assumed)."""


def shown_from_ml(site: Site, noise_mm: float = NOISE_MM, heel_l: float = 0.0) -> float:
    """Return the smallest dose of which a total loss is told nearly always, mL, by the tank's diameter.

    The dose and its rinses rise the level together, so the doubt of both counts. Each of two looks is the
    mean of 16 readings of `noise_mm`; the doubts add up as squares (JCGM 100:2008, 5.1.2).
    """
    pump = max(site.rig.pumps.values(), key=_count_share)
    rinse = site.rig.pumps[site.rig.manifold.rinse_pump]
    rinse_ml = rinses_after(site.rig.manifold, full=False) * site.rig.manifold.rinse_ml
    looks_ml = math.hypot(_looks_ml(site, noise_mm), heel_foam_l(site, heel_l) * 1000.0)
    told_ml = 0.0
    # A few rounds settle it: the doubt grows by less than a tenth of the dose.
    for _ in range(20):
        doubt_ml = math.hypot(
            looks_ml,
            _count_share(pump) * told_ml,
            _count_share(rinse) * rinse_ml,
            LEVEL_SHARE * (told_ml + rinse_ml),
        )
        told_ml = TOLD_AT * doubt_ml
    return told_ml


def heel_foam_l(site: Site, heel_l: float) -> float:
    """Return by how much foam may lift the level after a fill onto this heel, L: a standard doubt."""
    if heel_l <= 0 or not heel_may_foam_or_live(site):
        return 0.0
    return HEEL_FOAM_MM * _litres_per_mm(site)


def counted_only_findings(
    site: Site, recipe: Recipe, portions: tuple[Portion, ...], heel_l: float
) -> Iterator[PlanWarning]:
    """Warn, in one line, of every amount of tonight that nothing weighs, and what its loss would show.

    In a second line, of their pumps that may go for too long until somebody weighs them again.
    """
    from_ml = shown_from_ml(site, heel_l=heel_l)
    shown: list[str] = []
    hidden: list[str] = []
    foams = False
    for addition, portion in zip(recipe.additions, portions, strict=True):
        liquid = site.inputs[addition.input]
        foams = foams or liquid.foams
        if site.rig.pumps[liquid.pump].scale is None:
            told = portion.ml >= from_ml and (portion.living or not foams)
            (shown if told else hidden).append(addition.input)
    if portions and site.rig.pumps[site.rig.manifold.rinse_pump].scale is None:
        hidden.append("rinse water")
    if shown or hidden:
        yield PlanWarning(Rule.COUNTED_ONLY, _words(site, shown, hidden, from_ml))
    pumps = {site.inputs[addition.input].pump for addition in recipe.additions}
    late = [pump for name, pump in site.rig.pumps.items() if name in pumps and _due_too_late(pump)]
    if late:
        listed = ", ".join(_due_words(pump) for pump in late)
        yield PlanWarning(
            Rule.COUNTED_ONLY,
            f"no scale sees a tube wear, and {COUNTED_DUE_DAYS} nights of 500 mL take nearly 1 %: {listed}; "
            f'write at most "{COUNTED_DUE_DAYS} days", and weigh the pump again by then',
        )


def _due_too_late(pump: Pump) -> bool:
    return pump.scale is None and (pump.due_days is None or pump.due_days > COUNTED_DUE_DAYS)


def _due_words(pump: Pump) -> str:
    key = f"pumps.{pump.name}.due"
    return f"{key} is missing" if pump.due_days is None else f"{key} is {pump.due_days} days"


def _words(site: Site, shown: list[str], hidden: list[str], from_ml: float) -> str:
    tank = f"a tank {site.rig.tank.diameter_m * 100:g} cm wide and {NOISE_MM:g} mm of level noise (assumed)"
    loss = plain_ml(round(from_ml, -1))
    parts = []
    if shown:
        parts.append(f"{', '.join(shown)} (in {tank} the level shows a loss from some {loss} on)")
    if hidden:
        parts.append(
            f"{', '.join(hidden)} (the level shows no loss of one alone, at most that of all together)"
        )
    return f"no scale weighs and only counts prove: {'; '.join(parts)}"


def _litres_per_mm(site: Site) -> float:
    return math.pi / 4.0 * site.rig.tank.diameter_m**2


def _looks_ml(site: Site, noise_mm: float) -> float:
    """Return the standard doubt of the difference of two looks, mL."""
    step_mm = 0.1 / math.sqrt(12.0)
    error_mm = noise_mm * math.sqrt((LOOKS - 1) / (LOOKS - 3) / LOOKS)
    return 1000.0 * _litres_per_mm(site) * math.hypot(error_mm, step_mm) * math.sqrt(2.0)


def _count_share(pump: Pump) -> float:
    return UNDATED_SHARE if pump.calibrated is None else CALIBRATED_SHARE
