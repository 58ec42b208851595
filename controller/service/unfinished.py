"""Close a batch that was cut off when the program ended, with what the board still knows of its open doses.

The batch is never carried on from here: it is recorded as aborted, and what is in the tank counts as an old
heel, which the next plan judges. Reading the record comes first, writing later: two threads share it then.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

from controller.measure.metering import dose_uncertainty_ml, ml_for
from controller.record.events import BatchEnded, BatchResult, DoseIntent, DoseOutcome, DoseResult
from controller.record.recovery import last_batch, open_doses
from controller.record.rows import Source
from controller.record.writer import Ledger
from controller.settings.values import Pump, Site

CUT_OFF = "the program ended before the batch did"

BoardMotions = Callable[[], Mapping[tuple[int, int], int] | None]
"""Gives the counts done by boot id and dose id, the last dose of each channel; None from a silent board."""


@dataclass(frozen=True, slots=True)
class Unfinished:
    """What an earlier run of the program left open: doses without a result, and a batch without an end."""

    doses: tuple[DoseIntent, ...]
    batch: int | None

    def close(self, ledger: Ledger, motions: BoardMotions, site: Site, now_s: float) -> None:
        """Write a result for every open dose and an end for the batch."""
        known = (motions() or {}) if self.doses else {}
        for intent in self.doses:
            ledger.put(now_s, _result(intent, known.get((intent.boot_id, intent.dose_id)), site))
        if self.batch is not None:
            ledger.put(now_s, BatchEnded(self.batch, BatchResult.ABORTED, CUT_OFF, released=False))


def find_unfinished(journal: Source) -> Unfinished:
    """Read what was left open."""
    last = last_batch(journal)
    open_batch = last is not None and last.ended is None
    return Unfinished(open_doses(journal), last.started.event.batch if last and open_batch else None)


def _result(intent: DoseIntent, counts: int | None, site: Site) -> DoseResult:
    """State what is proven; of a dose that the board does not know, all or nothing may have gone in."""
    seen = 0 if counts is None else min(counts, intent.target_count)
    outcome, missing_ml = DoseOutcome.DONE if seen >= intent.target_count else DoseOutcome.SHORT, 0.0
    if counts is None:
        outcome, missing_ml = DoseOutcome.UNPROVEN, intent.target_ml
    ml, metering_ml = _metered(intent, seen, missing_ml, site.rig.pumps.get(intent.pump))
    return DoseResult(
        batch=intent.batch,
        number=intent.number,
        dose_id=intent.dose_id,
        outcome=outcome,
        count_done=seen,
        ml=ml,
        uncertainty_ml=metering_ml + missing_ml,
        reason=CUT_OFF if counts is None else f"{CUT_OFF}; the board told how far this dose came",
    )


def _metered(intent: DoseIntent, seen: int, missing_ml: float, pump: Pump | None) -> tuple[float, float]:
    """Give what the counts seen gave by the pump as it metered, and how far off metering may be, mL."""
    if pump is None:
        ml = seen * intent.ml_per_count
        return ml, ml
    as_metered = replace(pump, ml_per_count=intent.ml_per_count)
    ml = ml_for(as_metered, seen)
    return ml, dose_uncertainty_ml(as_metered, ml + missing_ml)
