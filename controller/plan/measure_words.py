"""How the measuring of one amount is told to a person: at once, in pours, or by way of a dilution.

What is measured how is worked out in `vessel.py`.
"""

from __future__ import annotations

from itertools import groupby

from controller.plan.vessel import Measured, least_credible_ml, measured
from controller.plan.words import ml_words


def measure_words(title: str, ml: float, vessel_ml: float) -> str:
    """Say how to measure an amount with a vessel: at once, in pours, or diluted because it is too small."""
    how = measured(ml, vessel_ml)
    split = pours_words(how.pours_ml)
    if how.dilution == 1:
        return f"{ml_words(ml)} of {title}" + (f", in pours: {split}" if len(how.pours_ml) > 1 else "")
    return (
        f"{ml_words(ml)} of {title}. That is below {ml_words(least_credible_ml(vessel_ml))}, the least this "
        f"vessel measures credibly: dilute it 1 in {how.dilution} ({_tenths_words(how, vessel_ml)}), mix, "
        f"and take {split} of the dilution"
    )


def dose_words(ml: float, vessel_ml: float) -> str:
    """Say one amount, and what it is of the dilution where it is too small for the vessel."""
    how = measured(ml, vessel_ml)
    if how.dilution == 1:
        return ml_words(ml)
    return f"{ml_words(ml)} ({ml_words(ml * how.dilution)} of the dilution 1 in {how.dilution})"


def pours_words(pours_ml: tuple[float, ...]) -> str:
    """Write pours with the equal ones counted: 12 x 60.0 mL + 15.0 mL."""
    words = []
    for text, alike in groupby(ml_words(pour_ml) for pour_ml in pours_ml):
        times = sum(1 for _ in alike)
        words.append(text if times == 1 else f"{times} x {text}")
    return " + ".join(words)


def _tenths_words(how: Measured, vessel_ml: float) -> str:
    tenth = ml_words(vessel_ml / 10.0)
    words = f"{tenth} filled up to {ml_words(vessel_ml)} with water"
    if how.dilution_steps > 1:
        words += f"; {tenth} of that filled up again, {how.dilution_steps} dilutions in all"
    return words
