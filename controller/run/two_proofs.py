"""What the board's counts and the scale together prove of one motion, and what stays open where they differ.

Pure. Where they agree, or the weight fell evenly with the counts, the amount is sure. Where they contradict
each other and the cause is not sure, only a person can tell: the doubt then covers both amounts. What is to
be done is the phase's.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from controller.measure.loss_course import Course, course
from controller.measure.weighing import WeighedAmount, beyond_doubt, grams
from controller.measure.weight_loss import MISSING_SHARE, SIGMAS, TUBE_HOLDS_G, WeightLoss
from controller.record.events import Basis
from controller.run.dose_amount import DoseAmount, as_watched, believed
from controller.run.situation import Cause, Trouble
from controller.settings.values import Pump

SMALL_SHARE = 0.08
"""Where it cannot be told whether a tube is worn or a scale was touched, a person is asked beyond this: a
tube worn further is not used."""
SMALL_G = 10.0
"""A jump of less is creep, drift or a drop."""


@dataclass(frozen=True, slots=True)
class Proof:
    """`amount` is what goes on record; `sure`: it may be topped up; `teaches`: it tells of the tube.

    `lost`: why the scale does not count; `unclear`: both amounts, where a person must decide.
    """

    amount: DoseAmount
    sure: bool = False
    teaches: bool = False
    lost: str = ""
    unclear: str = ""


def proof(
    counted: DoseAmount,
    weighed: WeighedAmount,
    loss: WeightLoss | None,
    density_kg_l: float,
    *,
    of_ml: float,
    held: bool,
    halted: bool,
    held_at_rest: bool = False,
) -> Proof:
    """Hold the weighed amount against the counted one, by how the weight fell while the pump turned.

    `loss` was watched since the last rest; `of_ml` is the dose that it is, or tops up. `held`: a person may
    have been at the bottle; `held_at_rest`: after the pump had stood. `halted`: the pump was stopped because
    too little left the bottle.
    """
    apart_ml = abs(weighed.ml - counted.ml)
    doubt_ml = math.hypot(weighed.uncertainty_ml, counted.uncertainty_ml)
    apart_g, small_ml = grams(counted.ml - weighed.ml, density_kg_l), SMALL_G / density_kg_l
    fell = _course(loss, counted.ml - weighed.ml, density_kg_l)
    came_less = halted and not held_at_rest and fell in (Course.EVEN, Course.PAUSE)
    if came_less or (fell is Course.EVEN and not held):
        return Proof(believed(counted, weighed), sure=not halted, teaches=not halted)
    uneven = fell in (Course.STEP, Course.PAUSE, Course.UNEVEN) and apart_ml > small_ml
    if apart_ml <= doubt_ml and not uneven:
        alone = not (held or halted)
        near = apart_ml <= max(weighed.uncertainty_ml, small_ml)
        amount = believed(counted, weighed) if near else covering_both(counted, weighed)
        return Proof(amount, sure=alone and apart_ml <= weighed.uncertainty_ml, teaches=alone)
    if fell is Course.STEP and apart_g > TUBE_HOLDS_G and not halted:
        return Proof(counted, lost="its weight jumped while the pump turned")
    if held_at_rest and not halted and loss is not None and came_whole(loss):
        return Proof(watched(counted, loss), lost="somebody was at the bottle before it was weighed again")
    # What the calibration leaves open makes a tube move less all the time, and no jump.
    surely = beyond_doubt(apart_ml, weighed.uncertainty_ml if uneven else doubt_ml)
    allowed_ml = min(SMALL_SHARE * of_ml, small_ml) if uneven else SMALL_SHARE * of_ml
    unclear = halted or (surely and apart_ml > allowed_ml)
    words = _words(counted.ml, weighed.ml, fell) if unclear else ""
    return Proof(covering_both(counted, weighed), unclear=words)


def covering_both(counted: DoseAmount, weighed: WeighedAmount) -> DoseAmount:
    """Give the amount by the smaller doubt, with a doubt that reaches over both."""
    kept = believed(counted, weighed)
    reach_ml = max(
        abs(kept.ml - max(weighed.ml, 0.0)) + weighed.uncertainty_ml,
        abs(kept.ml - counted.ml) + counted.uncertainty_ml,
    )
    return DoseAmount(kept.ml, max(kept.uncertainty_ml, reach_ml), kept.basis)


def watched(counted: DoseAmount, loss: WeightLoss | None) -> DoseAmount:
    """Give a counted amount with a doubt that covers what the scale showed while the pump turned."""
    if loss is None or not math.isfinite(loss.standard_share):
        return counted
    off_share, doubt_share = abs(1.0 - loss.share), 2.0 * loss.standard_share
    if off_share <= doubt_share:
        return counted
    doubt_ml = max(counted.uncertainty_ml, (off_share + doubt_share) * counted.ml)
    return DoseAmount(counted.ml, doubt_ml, Basis.COUNTED)


def watched_only(counted: DoseAmount, loss: WeightLoss | None, density_kg_l: float, *, halted: bool) -> Proof:
    """Say what is known of a motion after which nothing could be weighed at rest."""
    if loss is None or not math.isfinite(loss.standard_share):
        return Proof(counted)
    seen = as_watched(counted.ml, loss.share, loss.standard_share)
    if halted and _course(loss, counted.ml - loss.share * counted.ml, density_kg_l) in (
        Course.EVEN,
        Course.PAUSE,
    ):
        return Proof(seen)
    amount = watched(counted, loss)
    off_share = abs(1.0 - loss.share)
    if halted or off_share - SIGMAS * loss.standard_share > SMALL_SHARE:
        return Proof(amount, unclear=_words(counted.ml, seen.ml, Course.UNDECIDED))
    return Proof(amount)


def came_whole(loss: WeightLoss) -> bool:
    """Tell whether the watched scale leaves no doubt that most of the counts left the bottle."""
    return loss.share - SIGMAS * loss.standard_share > 1.0 - MISSING_SHARE


def _course(loss: WeightLoss | None, missing_ml: float, density_kg_l: float) -> Course:
    """Say how the weight fell; what is missing of the whole is missing since the last rest."""
    if loss is None or not loss.samples:
        return Course.UNDECIDED
    counted_g = loss.samples[-1][0]
    return course(loss.samples, counted_g, counted_g - grams(missing_ml, density_kg_l))


def _words(counted_ml: float, weighed_ml: float, fell: Course) -> str:
    """Tell both amounts, and what may be."""
    why = {
        Course.STEP: "its weight jumped: a tube ran back into a bottle on it, or it was touched",
        Course.PAUSE: "nothing left for a while: air, a blockage",
        Course.UNEVEN: "unevenly: air, a blockage, a tube that ran back, or it was touched",
    }.get(fell, "worn tube, air, or the scale was touched")
    return f"{counted_ml:.1f} mL were counted, {weighed_ml:.1f} mL left by weight; {why}"


def metered_evenly(pump: Pump, counts: int, weighed: WeighedAmount | None) -> Pump | None:
    """Give the pump as a sure dose showed it: its top-up goes by that, and nothing else yet; or None."""
    moved_ml = 0.0 if weighed is None else weighed.ml - pump.start_ml
    return replace(pump, ml_per_count=moved_ml / counts) if counts > 0 and moved_ml > 0.0 else None


def unclear_told(
    name: str, unclear: str, counted_ml: float, amount: DoseAmount, weighed: WeighedAmount | None
) -> Trouble:
    """Give what a person is told of a dose whose two amounts contradict each other."""
    short = weighed is None or weighed.ml <= counted_ml
    return Trouble(
        Cause.DOSE_MISSING if short else Cause.DOSE_EXCESS,
        f"{name}: {unclear}. {amount.ml:.1f} ± {amount.uncertainty_ml:.1f} mL go on record. "
        "Look at bottles, tubes and scale; resume takes it as it is",
    )
