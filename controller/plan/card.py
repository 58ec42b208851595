"""The card for mixing without the rig: its lines, and how they read on paper.

What the lines say is worked out in `by_hand.py` and `by_hand_trim.py`.
"""

from __future__ import annotations

import textwrap
from dataclasses import dataclass
from enum import Enum

from controller.plan.steps import PlanWarning
from controller.plan.words import ml_words, volume_words

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


def _wrapped(mark: str, text: str) -> str:
    return textwrap.fill(text, WIDTH, initial_indent=mark, subsequent_indent=" " * len(mark))
