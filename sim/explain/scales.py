"""Scales of a night, true against weighed: what each dose took from its bottle, what stands there by the end.

Arithmetic and tables; what the controller made of a weighing stands with the amounts.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from controller.record.batch_record import BatchRecord, of_kind
from controller.record.events import Weighing
from controller.record.page import Html, element, folded, join, table, text
from controller.record.words import later, millilitres, signed, time_of_day
from sim.explain.truth_trace import ScaleSeen
from sim.outcome import NightOutcome


@dataclass(frozen=True, slots=True)
class Weighed:
    """One weighing beside what the pump truly moved since the one before it in the same step."""

    t_s: float
    scale: str
    input: str
    ml: float
    doubt_ml: float
    true_ml: float

    @property
    def amount_ml(self) -> float:
        """Give weighed less true, mL."""
        return self.ml - self.true_ml


def weighings(record: BatchRecord, ml_by_dose: Mapping[int, float]) -> tuple[Weighed, ...]:
    """Give every weighing of a night in order; the doses of one step may be weighed together."""
    found: list[Weighed] = []
    weighed_to: dict[int, int] = {}
    for weighing in of_kind(record.events, Weighing):
        event = weighing.event
        before_id = weighed_to.get(event.number, -1)
        weighed_to[event.number] = event.dose_id
        intents = [
            dose.intent.event
            for dose in record.doses
            if dose.intent.event.number == event.number
            and before_id < dose.intent.event.dose_id <= event.dose_id
        ]
        true_ml = sum(ml_by_dose.get(intent.dose_id, 0.0) for intent in intents)
        name = intents[-1].input if intents else ""
        found.append(Weighed(weighing.t_s, event.scale, name, event.ml, event.uncertainty_ml, true_ml))
    return tuple(found)


def scales(outcome: NightOutcome, at_end: Sequence[ScaleSeen]) -> Html:
    """Tell of the scales, folded; nothing where none is fitted."""
    if not at_end:
        return Html("")
    every = weighings(outcome.record, outcome.ml_by_dose)
    parts = [_weighings(outcome, every)] if every else [element("p", "Nothing was weighed.")]
    return folded("Scales as tables", join(*parts, _at_end(at_end)))


def _weighings(outcome: NightOutcome, every: Sequence[Weighed]) -> Html:
    wall = outcome.record.started.row.wall
    rows = [
        (
            join(
                text(row.input.replace("_", " ").capitalize()),
                element("small", time_of_day(later(wall, row.t_s))),
            ),
            row.scale.replace("_", " "),
            join(text(millilitres(row.ml)), element("small", f"± {millilitres(row.doubt_ml)}")),
            join(
                text(millilitres(row.true_ml)),
                element("small", f"weighed {signed(millilitres(row.amount_ml))}"),
            ),
        )
        for row in every
    ]
    caption = "Each weighing: what a scale says left its bottle, and what the pump truly moved"
    return table(caption, ("input", "scale", "weighed", "true"), rows, numbers=(2, 3))


def _at_end(at_end: Sequence[ScaleSeen]) -> Html:
    rows = [
        (
            seen.name.replace("_", " "),
            f"{seen.stands_g:.1f} g",
            "no reading" if seen.shows_g is None else f"{seen.shows_g:.1f} g",
            "–" if seen.shows_g is None else f"{signed(f'{seen.shows_g - seen.stands_g:.1f}')} g",
        )
        for seen in at_end
    ]
    caption = "What stood on each scale by the end, plate and empty bottles too"
    return table(caption, ("scale", "true", "shown", "difference"), rows, numbers=(1, 2, 3))
