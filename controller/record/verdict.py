"""The verdict on a batch in plain words: may this tank be fed, and because of what.

Only what is recorded is put into words here; the judgement itself was made, and recorded, in the night.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum, StrEnum

from controller.record.amounts import Outcome, additions
from controller.record.batch_record import BatchRecord, Timed, is_beside_tank
from controller.record.events import KEEP, BatchEnded, BatchResult, Reading
from controller.record.words import acidity, date_and_minute


class Fitness(Enum):
    """What a person may do with the tank, as far as the record goes."""

    RELEASED = "Released as fit to feed"
    KEPT = "Released as fit to feed, and being kept"
    WITHDRAWN = "Released, then withdrawn: do not feed"
    UNFINISHED = "Not released so far: do not feed"
    REFUSED = "Not released: do not feed"
    BESIDE = "Into a vessel beside the tank: nothing to feed"


class Permit(StrEnum):
    """What became of the feed permit of a batch that has ended, in one word."""

    GIVEN = "yes"
    WITHDRAWN = "withdrawn"
    NONE = "no"


@dataclass(frozen=True, slots=True)
class BatchVerdict:
    """The verdict, its reason, and what a person should doubt all the same."""

    fitness: Fitness
    because: str
    doubts: tuple[str, ...]

    @property
    def doubts_lead(self) -> str:
        """Give the word before a doubt: against a tank that may be fed, or on top of one that may not."""
        return "But" if self.fitness in (Fitness.RELEASED, Fitness.KEPT) else "Also"


def verdict(record: BatchRecord) -> BatchVerdict:
    """Put the end of a batch into plain words."""
    fitness = _fitness(record)
    return BatchVerdict(fitness, _because(record, fitness), _doubts(record))


def permit(ended: BatchEnded | None) -> Permit:
    """Say what became of the feed permit; of a batch without a recorded end, none can be trusted."""
    if ended is None or not ended.released:
        return Permit.NONE
    return Permit.GIVEN if ended.result == BatchResult.COMPLETE else Permit.WITHDRAWN


def kept_from_s(record: BatchRecord) -> float | None:
    """Tell when the keeping of the finished tank began, in seconds since the start; None if it never did."""
    return next((step.started.t_s for step in record.steps if step.started.event.kind == KEEP), None)


def release_reading(record: BatchRecord) -> Timed[Reading] | None:
    """Give the last reading that may be judged and was taken before the tank was kept."""
    until_s = kept_from_s(record)
    before = [reading for reading in record.accepted if until_s is None or reading.t_s <= until_s]
    return before[-1] if before else None


def _fitness(record: BatchRecord) -> Fitness:
    if is_beside_tank(record.started.event):
        return Fitness.BESIDE
    if record.ended is None:
        return Fitness.KEPT if kept_from_s(record) is not None else Fitness.UNFINISHED
    return {
        Permit.GIVEN: Fitness.RELEASED,
        Permit.WITHDRAWN: Fitness.WITHDRAWN,
        Permit.NONE: Fitness.REFUSED,
    }[permit(record.ended.event)]


def _because(record: BatchRecord, fitness: Fitness) -> str:
    unfinished = fitness is Fitness.BESIDE and record.ended is None
    if fitness is Fitness.UNFINISHED or unfinished:
        state = f"the last recorded state is {record.states[-1].event.state}" if record.states else ""
        return f"No end is recorded{'; ' + state if state else ''}."
    if record.ended is not None and fitness is not Fitness.RELEASED:
        reason = record.ended.event.reason or "no reason is recorded"
        return f"Because: {reason} (the batch ended as {record.ended.event.result})."
    reading, start = release_reading(record), record.started.event
    if reading is None:
        return "No accepted pH reading is recorded."
    inside = reading.event.ph is not None and start.ph_low <= reading.event.ph <= start.ph_high
    where = f"{'inside' if inside else 'OUTSIDE'} the window {start.ph_low:g} to {start.ph_high:g}"
    return f"Because: settled and steady at {acidity(reading.event.ph)}, {where}.{_kept_until(record)}"


def _kept_until(record: BatchRecord) -> str:
    """Say when the keeping of a released tank was over, for from then on it may not be fed."""
    kept = [step.ended for step in record.steps if step.started.event.kind == KEEP and step.ended is not None]
    if not kept:
        return ""
    note = kept[-1].event.note or kept[-1].event.result
    return f" It was kept until {date_and_minute(kept[-1].row.wall)} ({note}); do not feed it after that."


def _doubts(record: BatchRecord) -> tuple[str, ...]:
    doubts = []
    if record.chain.faults:
        doubts.append("The record of this batch is damaged, so it proves nothing: see which rows at its end.")
    for amount in additions(record):
        if amount.outcome is not Outcome.AS_PLANNED:
            doubts.append(f"{amount.title} is {amount.said}.")
    return tuple(doubts)
