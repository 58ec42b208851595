"""How a plain number is written for people: digits only, never with an exponent.

No unit is known here; whoever writes the number puts it behind.
"""

from __future__ import annotations

import math


def plain_number(value: float, figures: int = 4) -> str:
    """Write a number with so many figures that mean something, without idle zeros; whole digits are all kept.

    0.00012345 becomes 0.0001235, and 1234567.8 becomes 1234568; what is not finite is written as it is.
    """
    if value == 0 or not math.isfinite(value):
        return f"{value:g}"
    decimals = max(figures - 1 - math.floor(math.log10(abs(value))), 0)
    text = f"{value:.{decimals}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
