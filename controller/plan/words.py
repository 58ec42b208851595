"""How amounts, volumes, rates and times are written in what planning says: plain digits and a fitting unit.

`ml_words` and `volume_words` are for amounts that a person measures; `plain_ml`, `plain_l` and `plain_rate`
repeat figures that somebody wrote down.
"""

from __future__ import annotations

from controller.settings.numbers import plain_number

# From here on millilitres are written as litres.
LITRES_FROM_ML = 10_000.0
# Figures for two amounts that are held against each other and may lie close together.
CLOSE = 6


def ml_words(ml: float) -> str:
    """Write an amount as a person can measure it: three figures that mean something, litres from 10 L on."""
    if ml >= LITRES_FROM_ML:
        return volume_words(ml / 1000.0)
    if ml >= 100:
        return f"{ml:.0f} mL"
    if ml >= 1:
        return f"{ml:.1f} mL" if ml >= 10 else f"{ml:.2f} mL"
    return f"{plain_number(ml, 3)} mL"


def volume_words(litres: float) -> str:
    """Write a volume of water: litres, or millilitres below one litre."""
    return f"{litres:.2f} L" if litres >= 1 else ml_words(litres * 1000.0)


def time_words(seconds: float) -> str:
    """Write a time: seconds below two minutes, minutes below two hours, else hours."""
    if seconds < 120:
        return f"{seconds:.0f} s"
    return f"{seconds / 60:.0f} min" if seconds < 7200 else f"{seconds / 3600:.0f} h"


def plain_ml(ml: float, figures: int = 4) -> str:
    """Write an amount given in mL without idle zeros; litres from 10 L on."""
    if abs(ml) >= LITRES_FROM_ML:
        return f"{plain_number(ml / 1000.0, figures)} L"
    return f"{plain_number(ml, figures)} mL"


def plain_l(litres: float) -> str:
    """Write a volume given in L without idle zeros."""
    return f"{plain_number(litres)} L"


def plain_rate(ml_l: float) -> str:
    """Write a rate, mL/L, with three figures."""
    return f"{plain_number(ml_l, 3)} mL/L"
