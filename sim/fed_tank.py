"""What is truly in a tank as its feed permit comes, held against what was wanted and what the record says.

It looks at the plant and at the record, never at what the controller believes, and gives what is wrong in
words. Whether that breaks a law is said by `laws.py`. The pH of a fed tank is watched there.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from controller.plan.steps import Plan
from sim.matter.ions import CL, NA, K
from sim.pumping.dosing import Dosing
from sim.rig import SimRig
from sim.told_doses import Told
from sim.vessel.tank import Tank

WANTED_SHARE = 0.10
"""A feed a tenth off its recipe is doubtful: labels round that far (common practice, no source)."""
RECORDED_SHARE = 0.05
"""The record claims amounts as counted. A pump drifts by 3 % before it should be warned of, and is 8 % off
before it is refused (so it is planned here); at 5 % what the record says is no proof any more."""
SOLIDS_SHARE = 0.10
"""Grains that came, against the label: as much as the amount itself may be off."""
UNEVEN_SHARE = 0.10
"""What is fed lies at the bottom; its strength may be off the tank's mean by as much as an amount may."""
LITTLE_ML = 3.0
"""Drops at the outlet and what a rinse leaves in the line: true of any dose, whatever its size."""

_STEADY = (NA, K, CL)
"""Ions that nothing in a tank takes out of the water."""


def doubts(rig: SimRig, plan: Plan, told: Mapping[str, Told]) -> Iterator[str]:
    """Give everything that makes this tank not what it is said to be.

    Where the record says that a dose is unproven, a person took the tank as it is: then only the record and
    its stated doubt are held to the truth.
    """
    dosing = rig.plant.dosing
    wanted_ml = {addition.input: addition.ml for addition in plan.additions}
    for name in dosing.delivered_ml:
        says = told.get(name, Told())
        true_ml = fed_ml(dosing, name)
        target_ml = wanted_ml.get(name, 0.0) + says.trims_ml
        if not says.unproven and abs(true_ml - target_ml) > WANTED_SHARE * target_ml + LITTLE_ML:
            yield f"a tank with {true_ml:.0f} mL of {name} is fed, wanted were {target_ml:.0f} mL"
        elif abs(true_ml - says.ml) > RECORDED_SHARE * says.ml + says.doubt_ml + LITTLE_ML:
            yield f"a tank with {true_ml:.0f} mL of {name} is fed, its record says {says.ml:.0f} mL"
        solids = solids_share(rig, says)
        if solids is not None and abs(solids - 1.0) > SOLIDS_SHARE:
            yield f"a tank is fed whose {name} had {100 * solids:.0f} % of the solids on its label"
    off = unevenness(rig.plant.tank)
    if off > UNEVEN_SHARE:
        yield f"a tank is fed whose bottom is {100 * off:.0f} % off its mean strength"


def fed_ml(dosing: Dosing, name: str) -> float:
    """Return how much of an input has gone into the tank, mL; what stands in the common line has not."""
    return dosing.delivered_ml[name] - dosing.common_line_ml(name)


def solids_share(rig: SimRig, told: Told) -> float | None:
    """Return the solids that the doses of an input truly had, as a share of the label; None without any."""
    shares, ml = rig.plant.dosing.solids_share_by_dose, rig.pins.ml_by_dose
    doses = [(ml.get(dose_id, 0.0), shares[dose_id]) for dose_id in told.dose_ids if dose_id in shares]
    moved_ml = sum(dose_ml for dose_ml, _ in doses)
    return sum(dose_ml * share for dose_ml, share in doses) / moved_ml if moved_ml > LITTLE_ML else None


def unevenness(tank: Tank) -> float:
    """Return how far the strength of the bottom layer is off the tank's mean, as a share of it."""
    tank.water.mix()
    bottom, whole = tank.water.parcels[-1], tank.water.content()
    mean = sum(whole[place] for place in _STEADY) / len(tank.water.parcels)
    return abs(sum(bottom[place] for place in _STEADY) / mean - 1.0) if mean > 0.0 else 0.0
