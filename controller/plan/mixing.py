"""How long the tank must be stirred: the jet-mixing correlation and what this site puts on top of it.

theta95 = 3.00 Z^2 / (U D) for a turbulent jet (Grenville and Tilton, Chem. Eng. Res. Des. 74A (1996) 390;
form and constant from memory), Z the path of the jet, U its speed at the nozzle and D the nozzle bore.
Whether and when to mix is not decided here.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from controller.plan.findings import Rule
from controller.plan.steps import PlanWarning
from controller.settings.values import Form, Input, Site, Stir, Tank

GRENVILLE_TILTON = 3.00
TURBULENT_REYNOLDS = 1.0e4
# Water at 20 °C (IAPWS): 1.00 mm²/s. Colder water is more viscous by at most a third.
WATER_M2_S = 1.0e-6
# From 95 % to 99 % mixed when what is left decays exponentially.
COMPLETE_OVER_95 = math.log(100.0) / math.log(20.0)
SUSPENSION_FACTOR = 2.0


def jet_path_m(tank: Tank, content_l: float) -> float:
    """Return the longest way a jet can cross the liquid, m: the diagonal of an upright cylinder."""
    area_m2 = math.pi * tank.diameter_m**2 / 4.0
    height_m = content_l / 1000.0 / area_m2
    return math.hypot(tank.diameter_m, height_m)


def nozzle_speed_m_s(stir: Stir) -> float:
    """Return the speed of the jet where it leaves the nozzle, m/s."""
    bore_m = stir.nozzle_mm / 1000.0
    return stir.flow_l_min / 60_000.0 / (math.pi * bore_m**2 / 4.0)


def jet_reynolds(stir: Stir) -> float:
    """Return the Reynolds number of the jet at the nozzle."""
    return nozzle_speed_m_s(stir) * stir.nozzle_mm / 1000.0 / WATER_M2_S


def theta95_s(tank: Tank, stir: Stir, content_l: float) -> float:
    """Return the time until 95 % mixed, s, by the jet correlation."""
    bore_m = stir.nozzle_mm / 1000.0
    return GRENVILLE_TILTON * jet_path_m(tank, content_l) ** 2 / (nozzle_speed_m_s(stir) * bore_m)


def mix_s(site: Site, content_l: float, *, suspension: bool, complete: bool) -> float:
    """Return how long to stir `content_l`, s: correlation x safety factor, never below the site's least.

    `suspension` doubles it; `complete` asks for 99 % mixed instead of 95 %.
    """
    needed_s = theta95_s(site.rig.tank, site.rig.stir, content_l) * site.rig.stir.safety_factor
    if complete:
        needed_s *= COMPLETE_OVER_95
    if suspension:
        needed_s *= SUSPENSION_FACTOR
    return max(needed_s, site.policy.mixing.min_mix_s)


def is_suspension(form: Form) -> bool:
    """Say whether an input has to be kept off the floor of the tank."""
    return form is Form.SUSPENSION


def stir_by_hand_s(site: Site, liquid: Input) -> float:
    """Return how long a person stirs after one input, s: the site's least, longer for a suspension."""
    least_s = site.policy.mixing.min_mix_s
    return SUSPENSION_FACTOR * least_s if is_suspension(liquid.form) else least_s


def mixing_findings(site: Site) -> Iterator[PlanWarning]:
    """Warn when the jet is not turbulent, for then the mixing times are not proven."""
    reynolds = jet_reynolds(site.rig.stir)
    if reynolds <= TURBULENT_REYNOLDS:
        yield PlanWarning(
            Rule.MIXING,
            f"the stir jet has a Reynolds number of {reynolds:.0f}, and the mixing times hold above "
            f"{TURBULENT_REYNOLDS:.0f}: fit a stronger stir pump or a smaller "
            f"nozzle, or prove the mixing by a dye test",
        )
