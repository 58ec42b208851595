"""Taking back what is on record of a dose when more is seen of it: another event, before the next step.

Who saw it, and what is believed now, is said by the caller; nothing is judged here.
"""

from __future__ import annotations

from controller.measure.arrived import StillLevel
from controller.measure.level_corrections import Corrected
from controller.record.events import Basis, DoseAmended, DoseOutcome
from controller.run.phases.phase import View
from controller.run.situation import Trouble


def amend(view: View, event: DoseAmended) -> None:
    """Hand the new word on a dose to the record; `amended_on_disk` tells when the next step may begin."""
    view.memory.amending.append(view.put(event))


def amended_on_disk(view: View) -> bool:
    """Tell whether everything that was taken back is on disk."""
    waiting = view.memory.amending
    waiting[:] = [ticket for ticket in waiting if not view.durable(ticket)]
    return not waiting


def held_against_level(view: View, level: StillLevel | None, *, whole: bool) -> tuple[Trouble | None, str]:
    """Compare what was moved with the level, and amend on record what the level has disproved.

    Give what to tell, if anything, and a note for the record, as `Arrivals.compare` does.
    """
    trouble, note = view.memory.arrivals.compare(level, whole=whole)
    for correction in view.memory.arrivals.corrections:
        amend(view, _event(view, correction, view.memory.arrivals.missing_ml))
    return trouble, note


def _event(view: View, correction: Corrected, missing_ml: float) -> DoseAmended:
    way = "less" if missing_ml > 0.0 else "more"
    whose = "" if correction.alone else ", nobody knows of what"
    return DoseAmended(
        batch=view.memory.batch,
        number=view.number,
        dose_id=correction.dose_id,
        input=correction.name,
        outcome=(DoseOutcome.SHORT if correction.alone else DoseOutcome.UNPROVEN).value,
        ml=correction.ml,
        uncertainty_ml=correction.expanded_ml,
        basis=Basis.LEVEL.value,
        reason=f"the level shows {abs(missing_ml):.0f} mL {way} than was moved{whose}",
    )
