"""What the record says of a night's doses, added up by input while it is written. It judges nothing."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from controller.record.events import (
    AnyEvent,
    DoseAmended,
    DoseIntent,
    DoseOutcome,
    DosePurpose,
    DoseResult,
)
from controller.record.last_word import last_words
from controller.record.writer import Ledger


@dataclass(slots=True)
class Told:
    """One input: mL on record, the doubt that the record states with it, mL wanted by trims, its doses.

    A trim of which less came than it asked for is wanted by what came: pH is read again after it.
    `unproven`: the record says of one of them that nobody knows how far it came, or took back what it said of
    it. The batch was held then, and went on only because a person took what had gone in.
    """

    ml: float = 0.0
    doubt_ml: float = 0.0
    trims_ml: float = 0.0
    dose_ids: list[int] = field(default_factory=list)
    unproven: bool = False


@dataclass(slots=True)
class _Dose:
    intent: DoseIntent
    result: DoseResult | None = None
    amended: list[DoseAmended] = field(default_factory=list)


class ToldDoses:
    """A ledger that passes everything on and adds up what it says of every dose but the rinses."""

    def __init__(self, ledger: Ledger) -> None:
        self._ledger = ledger
        self._by_input: dict[str, Told] = {}
        self._doses: dict[int, _Dose] = {}

    @property
    def by_input(self) -> Mapping[str, Told]:
        """Give what the record says so far."""
        return self._by_input

    def put(self, at_s: float, event: AnyEvent) -> int:
        """Pass an event on."""
        if isinstance(event, DoseIntent) and event.purpose != DosePurpose.RINSE:
            self._doses[event.dose_id] = _Dose(event)
            self._add_up()
        elif isinstance(event, DoseResult | DoseAmended) and event.dose_id in self._doses:
            dose = self._doses[event.dose_id]
            if isinstance(event, DoseAmended):
                dose.amended.append(event)
            else:
                dose.result = event
            self._add_up()
        return self._ledger.put(at_s, event)

    def _add_up(self) -> None:
        self._by_input.clear()
        for dose in self._doses.values():
            self._take(dose)

    def _take(self, dose: _Dose) -> None:
        meant = dose.intent
        own = self._by_input.setdefault(meant.input, Told())
        own.dose_ids.append(meant.dose_id)
        words = last_words(meant, dose.result, dose.amended)
        if meant.purpose == DosePurpose.TRIM:
            came = [word.ml for word in words if word.input == meant.input]
            own.trims_ml += min(meant.target_ml, *came) if came else meant.target_ml
        for word in words:
            told = self._by_input.setdefault(word.input, Told())
            told.ml += word.ml
            told.doubt_ml += word.uncertainty_ml
            told.unproven |= word.amended or word.outcome == DoseOutcome.UNPROVEN

    def durable(self, ticket: int) -> bool:
        """Tell whether the event with this ticket is on disk."""
        return self._ledger.durable(ticket)

    @property
    def fault(self) -> str | None:
        """Say why the record is not being kept, or None."""
        return self._ledger.fault

    def close(self) -> None:
        """Close the ledger behind it."""
        self._ledger.close()
