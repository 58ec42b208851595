"""Words for what an amount rests on: a scale, or motor counts alone. No figures are worked out here."""

from __future__ import annotations

from collections.abc import Sequence

from controller.record.amounts import OFF_TARGET_SHARE, Amount
from controller.record.words import millilitres

HOW_KNOWN = (
    "Weighed amounts are what the scale under the bottle lost, by the density in inputs.toml. Counted ones "
    "are motor counts times the millilitres of one count, and nothing else has seen them. Those by level "
    "were counted, and the level of the tank has shown otherwise. ± is the expanded "
    "uncertainty (k = 2); an amount is called off target beyond it and "
    f"{OFF_TARGET_SHARE * 100:.0f} % of the target."
)


def weighed_line(amounts: Sequence[Amount]) -> str:
    """Say which amounts rest on a scale and which on counts alone; empty when nothing was dosed."""
    parts = []
    for by in sorted({amount.by for amount in amounts if amount.by}, reverse=True):
        names = ", ".join(dict.fromkeys(amount.title for amount in amounts if amount.by == by))
        parts.append(f"{by.capitalize()}: {names}.")
    return " ".join(parts)


def doubt(amount: Amount) -> str:
    """Give the uncertainty of an amount, and what it rests on."""
    words = f"± {millilitres(amount.uncertainty_ml)}"
    return f"{words}, {amount.by}" if amount.by else words
