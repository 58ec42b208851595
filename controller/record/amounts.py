"""Targets against amounts: what each input should have been and what was weighed or counted.

Adding up lives here, with the words for how an amount came out. No page and no file is made here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import Enum

from controller.record.batch_record import BatchRecord, DoseRecord
from controller.record.events import DoseOutcome, DosePurpose
from controller.record.last_word import Believed
from controller.record.recorded_plan import plan_lines

OFF_TARGET_SHARE = 0.05
"""An amount further off than this and than its uncertainty is called off target. A choice, no source."""


_MOST_ML = 1e9


class Outcome(Enum):
    """How an amount came out, worst last."""

    AS_PLANNED = "as planned"
    OFF_TARGET = "off target"
    SHORT = "short"
    NOT_DOSED = "not dosed"
    UNPROVEN = "unproven"


@dataclass(frozen=True, slots=True)
class Amount:
    """One input's target and amount in mL. Uncertainties of several doses add up in full.

    `reason` is what the doses themselves said about a shortfall; `by` says what the amount rests on.
    """

    input: str
    title: str
    rate: str
    target_ml: float
    ml: float
    uncertainty_ml: float
    outcome: Outcome
    reason: str
    by: str = ""

    @property
    def said(self) -> str:
        """Say how it came out, with the reason if one is recorded."""
        return f"{self.outcome.value}: {self.reason}" if self.reason else self.outcome.value

    @property
    def difference_ml(self) -> float:
        """Give the amount less the target, in mL."""
        return self.ml - self.target_ml

    @property
    def difference_share(self) -> float | None:
        """Give the difference over the target; None for a target of nothing."""
        return self.difference_ml / self.target_ml if self.target_ml else None


@dataclass(frozen=True, slots=True)
class _Planned:
    title: str
    rate: str
    ml: float


def additions(record: BatchRecord) -> tuple[Amount, ...]:
    """Give every addition that was planned or dosed, in order of the plan."""
    planned = _planned(record.started.event.plan_json)
    doses = _by_input(record, DosePurpose.ADDITION)
    names = dict.fromkeys((*planned, *doses))
    return tuple(
        _amount(name, planned.get(name) or _unplanned(name, doses[name]), doses.get(name, ()))
        for name in names
    )


def trims(record: BatchRecord) -> tuple[Amount, ...]:
    """Give what was dosed to correct pH, one line an input."""
    return _beside_the_plan(record, DosePurpose.TRIM)


def rinses(record: BatchRecord) -> tuple[Amount, ...]:
    """Give the water that rinsed the line, one line a source."""
    return _beside_the_plan(record, DosePurpose.RINSE)


def _beside_the_plan(record: BatchRecord, purpose: DosePurpose) -> tuple[Amount, ...]:
    """Give amounts that the plan has no line for; an input that is also an addition has its title there."""
    planned = _planned(record.started.event.plan_json)
    found = []
    for name, doses in _by_input(record, purpose).items():
        line = _unplanned(name, doses)
        if name in planned:
            line = replace(line, title=planned[name].title)
        found.append(_amount(name, line, doses))
    return tuple(found)


def _unplanned(name: str, doses: Sequence[DoseRecord]) -> _Planned:
    """Give a line for what no plan told of: it was meant as the doses meant it, and by mistake not at all."""
    meant_ml = sum(dose.intent.event.target_ml for dose in doses if dose.intent.event.input == name)
    words = name.replace("_", " ")
    return _Planned(words[:1].upper() + words[1:], "", meant_ml)


def _by_input(record: BatchRecord, purpose: DosePurpose) -> dict[str, list[DoseRecord]]:
    """Give the doses of each input; one that also moved another input stands with both."""
    found: dict[str, list[DoseRecord]] = {}
    for dose in record.doses:
        if dose.intent.event.purpose == purpose:
            moved = (word.input for word in dose.believed)
            for name in dict.fromkeys((dose.intent.event.input, *moved)):
                found.setdefault(name, []).append(dose)
    return found


def _amount(name: str, planned: _Planned, doses: Sequence[DoseRecord]) -> Amount:
    words = [dose.of(name) for dose in doses]
    known = [word for word in words if word is not None]
    ml = sum(word.ml for word in known)
    uncertainty_ml = sum(word.uncertainty_ml for word in known)
    return Amount(
        input=name,
        title=planned.title,
        rate=planned.rate,
        target_ml=planned.ml,
        ml=ml,
        uncertainty_ml=uncertainty_ml,
        outcome=_outcome(words, planned.ml, ml, uncertainty_ml),
        reason="; ".join(dict.fromkeys(word.reason for word in known if word.reason)),
        by=" and ".join(sorted({word.basis for word in known}, reverse=True)),
    )


def _outcome(words: Sequence[Believed | None], target_ml: float, ml: float, uncertainty_ml: float) -> Outcome:
    said = {DoseOutcome.UNPROVEN if word is None else word.outcome for word in words}
    if not words:
        return Outcome.NOT_DOSED if target_ml else Outcome.AS_PLANNED
    if DoseOutcome.UNPROVEN in said:
        return Outcome.UNPROVEN
    allowed_ml = max(uncertainty_ml, OFF_TARGET_SHARE * target_ml)
    made_good = len(words) > 1 and ml >= target_ml - OFF_TARGET_SHARE * target_ml
    if DoseOutcome.SHORT in said and not made_good:
        return Outcome.SHORT
    if not said <= {DoseOutcome.DONE, DoseOutcome.SHORT}:
        return Outcome.UNPROVEN
    return Outcome.OFF_TARGET if abs(ml - target_ml) > allowed_ml else Outcome.AS_PLANNED


def _planned(plan_json: str) -> dict[str, _Planned]:
    """Read the additions of a plan; what cannot be read is left out, and the doses speak for themselves."""
    found = {}
    for line in plan_lines(plan_json, "additions"):
        name, ml = line.get("input"), line.get("ml")
        if isinstance(name, str) and isinstance(ml, int | float) and 0 <= ml < _MOST_ML:
            found[name] = _Planned(str(line.get("title", name)), str(line.get("rate", "")), float(ml))
    return found
