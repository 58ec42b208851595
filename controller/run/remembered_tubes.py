"""What earlier nights taught of each pump's tube: its weighed doses since its last calibration. Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from controller.measure.tube import TubeDose, TubeEstimate, tube_from
from controller.record.events import BatchStarted, DoseIntent, DoseOutcome, DoseResult, Weighing
from controller.record.rows import Row, Source
from controller.settings.values import Pump, Site

NIGHTS = 30
"""So many of the newest nights are looked at; what is older has faded long before."""


def remembered_tubes(record: Source, site: Site) -> Mapping[str, TubeEstimate]:
    """Give the estimate of every tube of which the record holds a weighed dose, by pump."""
    starts = record.rows(BatchStarted)[-NIGHTS:]
    if not starts:
        return {}
    first = starts[0].seq
    weighings = record.rows(Weighing, first=first)
    if not weighings:
        return {}
    pump_of = {row.event.dose_id: row.event.pump for row in record.rows(DoseIntent, first=first)}
    results = {row.event.dose_id: row for row in record.rows(DoseResult, first=first)}
    found = {}
    for pump in site.rig.pumps.values():
        ids = sorted(dose_id for dose_id, name in pump_of.items() if name == pump.name and dose_id in results)
        doses = _doses(pump, weighings, [results[dose_id] for dose_id in ids])
        if doses:
            found[pump.name] = tube_from(pump.ml_per_count, doses)
    return found


def _doses(
    pump: Pump, weighings: Sequence[Row[Weighing]], results: Sequence[Row[DoseResult]]
) -> list[TubeDose]:
    """Join each weighing with all doses of its step that it covers: one, or the shots of a rinse."""
    weighed = {row.event.dose_id: row.event for row in weighings}
    found: list[TubeDose] = []
    open_step: tuple[int, int] | None = None
    covered: list[DoseResult] = []
    for row in results:
        dose = row.event
        if (dose.batch, dose.number) != open_step:
            open_step, covered = (dose.batch, dose.number), []
        covered.append(dose)
        weighing = weighed.get(dose.dose_id)
        if weighing is None:
            continue
        whole = all(one.outcome == DoseOutcome.DONE for one in covered)
        if whole and weighing.uncertainty_ml > 0.0 and _counts_for(pump, row):
            ml = weighing.ml - len(covered) * pump.start_ml
            counts = sum(one.count_done for one in covered)
            found.append(TubeDose(counts, ml, weighing.uncertainty_ml))
        covered = []
    return found


def _counts_for(pump: Pump, row: Row[DoseResult]) -> bool:
    """Say whether a dose was given with the tube as it was last calibrated; of that very day nobody knows."""
    return pump.calibrated is None or row.wall.date() > pump.calibrated
