"""Close a batch that was cut off when the program ended, with what the board still knows of its open doses.

The batch is never carried on from here: it is recorded as aborted, and what is in the tank counts as an old
heel, which the next plan judges. Reading the record comes first, writing later: two threads share it then.

Counts prove how the rotor turned. Of a pump on a scale that is less than was to be known: the scale may have
seen that nothing left the bottle, and have had the motor stopped for it, when the program ended.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

from controller.measure.metering import dose_uncertainty_ml, ml_for
from controller.measure.weighing import WeighedAmount
from controller.record.events import BatchEnded, BatchResult, DoseIntent, DoseOutcome, DoseResult, Weighing
from controller.record.recovery import last_batch, open_doses
from controller.record.rows import Source
from controller.record.writer import Ledger
from controller.run.dose_amount import DoseAmount, believed
from controller.settings.values import Pump, Site

CUT_OFF = "the program ended before the batch did"

BoardMotions = Callable[[], Mapping[tuple[int, int], int] | None]
"""Gives the counts done by boot id and dose id, the last dose of each channel; None from a silent board."""


@dataclass(frozen=True, slots=True)
class Unfinished:
    """What an earlier run of the program left open: doses without a result, and a batch without an end.

    `weighings` are those of the open doses, by id.
    """

    doses: tuple[DoseIntent, ...]
    batch: int | None
    weighings: Mapping[int, Weighing]

    def close(self, ledger: Ledger, motions: BoardMotions, site: Site, now_s: float) -> None:
        """Write a result for every open dose and an end for the batch."""
        known = (motions() or {}) if self.doses else {}
        for intent in self.doses:
            counts = known.get((intent.boot_id, intent.dose_id))
            ledger.put(now_s, _result(intent, counts, self.weighings.get(intent.dose_id), site))
        if self.batch is not None:
            ledger.put(now_s, BatchEnded(self.batch, BatchResult.ABORTED, CUT_OFF, released=False))


def find_unfinished(journal: Source) -> Unfinished:
    """Read what was left open."""
    last, doses = last_batch(journal), open_doses(journal)
    open_batch = last is not None and last.ended is None
    ids = {dose.dose_id for dose in doses}
    rows = journal.rows(Weighing) if ids else ()
    weighings = {row.event.dose_id: row.event for row in rows if row.event.dose_id in ids}
    return Unfinished(doses, last.started.event.batch if last and open_batch else None, weighings)


def _result(intent: DoseIntent, counts: int | None, weighing: Weighing | None, site: Site) -> DoseResult:
    """State what is proven; of a dose that the board does not know, all or nothing may have gone in."""
    seen = 0 if counts is None else min(counts, intent.target_count)
    outcome = DoseOutcome.DONE if seen >= intent.target_count else DoseOutcome.SHORT
    if counts is None:
        outcome = DoseOutcome.UNPROVEN
    pump = site.rig.pumps.get(intent.pump)
    amount = _counted(intent, seen, intent.target_ml if counts is None else 0.0, pump)
    if weighing is not None:
        amount = believed(amount, _weighed(weighing))
    elif pump is not None and pump.scale in site.rig.scales:
        amount = replace(amount, uncertainty_ml=max(amount.uncertainty_ml, amount.ml))
    return DoseResult(
        batch=intent.batch,
        number=intent.number,
        dose_id=intent.dose_id,
        outcome=outcome,
        count_done=seen,
        ml=amount.ml,
        uncertainty_ml=amount.uncertainty_ml,
        reason=CUT_OFF if counts is None else f"{CUT_OFF}; the board told how far this dose came",
        basis=amount.basis.value,
    )


def _counted(intent: DoseIntent, seen: int, missing_ml: float, pump: Pump | None) -> DoseAmount:
    """Give what the counts seen gave by the pump as it metered, and how far off that may be."""
    if pump is None:
        ml = seen * intent.ml_per_count
        return DoseAmount(ml, ml + missing_ml)
    as_metered = replace(pump, ml_per_count=intent.ml_per_count)
    ml = ml_for(as_metered, seen)
    return DoseAmount(ml, dose_uncertainty_ml(as_metered, ml + missing_ml) + missing_ml)


def _weighed(weighing: Weighing) -> WeighedAmount:
    return WeighedAmount(weighing.before_g, weighing.after_g, weighing.ml, weighing.uncertainty_ml)
