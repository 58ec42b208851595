"""What the record says of a night's doses, added up by input while it is written. It judges nothing."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from controller.record.events import AnyEvent, DoseIntent, DoseOutcome, DosePurpose, DoseResult
from controller.record.writer import Ledger


@dataclass(slots=True)
class Told:
    """One input: mL on record, the doubt that the record states with it, mL wanted by trims, its doses.

    `unproven`: the record says of one of them that nobody knows how far it came. The batch was held then, and
    went on only because a person took what had gone in.
    """

    ml: float = 0.0
    doubt_ml: float = 0.0
    trims_ml: float = 0.0
    dose_ids: list[int] = field(default_factory=list)
    unproven: bool = False


class ToldDoses:
    """A ledger that passes everything on and adds up what it says of every dose but the rinses."""

    def __init__(self, ledger: Ledger) -> None:
        self._ledger = ledger
        self._by_input: dict[str, Told] = {}
        self._input_of: dict[int, str] = {}

    @property
    def by_input(self) -> Mapping[str, Told]:
        """Give what the record says so far."""
        return self._by_input

    def put(self, at_s: float, event: AnyEvent) -> int:
        """Pass an event on."""
        if isinstance(event, DoseIntent) and event.purpose != DosePurpose.RINSE:
            self._input_of[event.dose_id] = event.input
            told = self._by_input.setdefault(event.input, Told())
            told.dose_ids.append(event.dose_id)
            if event.purpose == DosePurpose.TRIM:
                told.trims_ml += event.target_ml
        elif isinstance(event, DoseResult) and event.dose_id in self._input_of:
            told = self._by_input[self._input_of[event.dose_id]]
            told.ml += event.ml
            told.doubt_ml += event.uncertainty_ml
            told.unproven |= event.outcome == DoseOutcome.UNPROVEN
        return self._ledger.put(at_s, event)

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
