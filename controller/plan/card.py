"""The card for mixing without the rig: its lines, and how they read on paper.

What the lines say is worked out in `by_hand.py`.
"""

from __future__ import annotations

import textwrap
from dataclasses import dataclass
from enum import Enum

from controller.plan.steps import PlanWarning

WIDTH = 88


class Act(Enum):
    """What a person does in one line of the card."""

    WATER = "water"
    SHAKE = "shake"
    MEASURE = "measure"
    DILUTE = "dilute"
    ADD = "add"
    RINSE = "rinse"
    STIR = "stir"
    TOP_UP = "top up"
    SETTLE = "settle"
    READ_PH = "read pH"
    TRIM = "trim"
    USE = "use"


@dataclass(frozen=True, slots=True)
class CardLine:
    """One thing to do. Amounts are what this line brings into the tank, mL; pours are what is measured."""

    act: Act
    text: str
    input: str | None = None
    input_ml: float = 0.0
    water_ml: float = 0.0
    pours_ml: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Card:
    """A batch for a person: the lines in their order. All water and inputs add up to `volume_l`."""

    recipe: str
    title: str
    volume_l: float
    vessel_ml: float
    lines: tuple[CardLine, ...]
    warnings: tuple[PlanWarning, ...]


def card_text(card: Card) -> str:
    """Return the card as plain text, numbered, with a box to tick on each line."""
    head = f"{card.title}: {volume_words(card.volume_l)} by hand, with a {ml_words(card.vessel_ml)} vessel"
    rows = [head, "=" * min(len(head), WIDTH), ""]
    for number, line in enumerate(card.lines, start=1):
        rows.append(_wrapped(f"[ ] {number:2d}. ", line.text))
    if card.warnings:
        rows += ["", "Mind:"]
        rows += [_wrapped("  - ", warning.text) for warning in card.warnings]
    return "\n".join(rows) + "\n"


def ml_words(ml: float) -> str:
    """Write an amount as a person can measure it: three figures that mean something."""
    if ml >= 100:
        return f"{ml:.0f} mL"
    return f"{ml:.1f} mL" if ml >= 10 else f"{ml:.2f} mL"


def volume_words(litres: float) -> str:
    """Write a volume of water: litres, or millilitres below one litre."""
    return f"{litres:.2f} L" if litres >= 1 else ml_words(litres * 1000.0)


def time_words(seconds: float) -> str:
    """Write a time: seconds below two minutes, minutes below two hours, else hours."""
    if seconds < 120:
        return f"{seconds:.0f} s"
    return f"{seconds / 60:.0f} min" if seconds < 7200 else f"{seconds / 3600:.0f} h"


def _wrapped(mark: str, text: str) -> str:
    return textwrap.fill(text, WIDTH, initial_indent=mark, subsequent_indent=" " * len(mark))
