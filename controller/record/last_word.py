"""What the record believes of one dose: the latest word on each input that it moved. No sums are made."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from controller.record.events import DoseAmended, DoseIntent, DoseResult


@dataclass(frozen=True, slots=True)
class Believed:
    """The latest word on what one dose moved of one input; the fields mean what they do in the events.

    `amended`: it is not what was written when the dose was over.
    """

    input: str
    outcome: str
    ml: float
    uncertainty_ml: float
    basis: str
    reason: str
    amended: bool = False


def last_words(
    intent: DoseIntent, result: DoseResult | None, amended: Iterable[DoseAmended]
) -> tuple[Believed, ...]:
    """Give the latest word on each input that a dose moved, its own first; `amended` in order of writing.

    Empty when nothing was written of it but the intent.
    """
    found: dict[str, Believed] = {}
    if result is not None:
        found[intent.input] = Believed(
            intent.input,
            result.outcome,
            result.ml,
            result.uncertainty_ml,
            result.basis,
            result.reason,
        )
    for event in amended:
        found[event.input] = Believed(
            event.input,
            event.outcome,
            event.ml,
            event.uncertainty_ml,
            event.basis,
            event.reason,
            amended=True,
        )
    return tuple(sorted(found.values(), key=lambda word: word.input != intent.input))
