"""What goes on record of one dose: the amount by the smaller doubt, and its weighing. Words, no motion."""

from __future__ import annotations

from dataclasses import dataclass

from controller.measure.arrived import Moved
from controller.measure.weighing import WeighedAmount, in_the_tube_ml, scale_is_believed
from controller.record.events import Basis, Weighing
from controller.run.phases.phase import View


@dataclass(frozen=True, slots=True)
class DoseAmount:
    """An amount in mL with its expanded uncertainty (k = 2), and what it rests on."""

    ml: float = 0.0
    uncertainty_ml: float = 0.0
    basis: Basis = Basis.COUNTED


def believed(counted: DoseAmount, weighed: WeighedAmount | None) -> DoseAmount:
    """Give what is to be recorded of a dose that was counted and, perhaps, weighed."""
    if weighed is None or not scale_is_believed(weighed, counted.ml, counted.uncertainty_ml):
        return counted
    doubt_ml = weighed.uncertainty_ml + in_the_tube_ml(counted.ml, weighed.ml)
    return DoseAmount(max(weighed.ml, 0.0), doubt_ml, Basis.WEIGHED)


def as_watched(counted_ml: float, share: float, standard_share: float) -> DoseAmount:
    """Give what a scale showed while the motor turned, of counts that will not be weighed at rest."""
    ml = max(share, 0.0) * counted_ml
    doubt_ml = 2.0 * standard_share * counted_ml + in_the_tube_ml(counted_ml, ml)
    return DoseAmount(ml, doubt_ml, Basis.WEIGHED)


def after(earlier: DoseAmount | None, part: DoseAmount) -> DoseAmount:
    """Add a part to what went before it; a dose that was not weighed whole rests on its counts too."""
    if earlier is None:
        return part
    return DoseAmount(earlier.ml + part.ml, earlier.uncertainty_ml + part.uncertainty_ml, Basis.COUNTED)


def since(counted: DoseAmount, earlier: DoseAmount | None) -> DoseAmount:
    """Give what has been counted after an earlier part."""
    return counted if earlier is None else DoseAmount(counted.ml - earlier.ml, counted.uncertainty_ml)


def put_weighing(view: View, dose_id: int, scale: str, weighed: WeighedAmount) -> None:
    """Hand a weighing to the record, under the dose that it ended with."""
    view.put(
        Weighing(
            batch=view.memory.batch,
            number=view.number,
            dose_id=dose_id,
            scale=scale,
            before_g=weighed.before_g,
            after_g=weighed.after_g,
            ml=weighed.ml,
            uncertainty_ml=weighed.uncertainty_ml,
        )
    )


def note_arrival(view: View, dose_id: int, input_name: str, pump: str, amount: DoseAmount) -> None:
    """Let the level be held against what went on record."""
    liquid = view.site.inputs.get(input_name)
    weighed = amount.basis is Basis.WEIGHED
    moved = Moved(input_name, pump, amount.ml, amount.uncertainty_ml, weighed, dose_id)
    view.memory.arrivals.note(moved, foams=liquid is not None and liquid.foams)
