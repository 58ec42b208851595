"""What tonight's plan starts from: the heel, the bottles, and a final volume other than the recipe's.

Only the facts live here, and the refusal of figures that no tank or bottle can have; what possible figures
allow is judged in `heel.py`, `limits.py` and `stock.py`.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from controller.plan.findings import Refusal, Rule
from controller.settings.numbers import plain_number
from controller.settings.values import Input, Site


@dataclass(frozen=True, slots=True)
class Tonight:
    """The tank and the bottles as they stand. `final_l` None: as the recipe says.

    `heel_age_s` counts from the mixing of the batch that the heel was left from; None: nobody knows.
    An input that `stock_ml` does not name has what inputs.toml says.
    """

    heel_l: float
    heel_age_s: float | None
    stock_ml: Mapping[str, float]
    final_l: float | None = None


def tonight_from(site: Site) -> Tonight:
    """Take an empty tank, and every bottle as inputs.toml says."""
    return Tonight(
        heel_l=0.0,
        heel_age_s=None,
        stock_ml={name: liquid.stock_ml for name, liquid in site.inputs.items()},
        final_l=None,
    )


def stock_of(tonight: Tonight, liquid: Input) -> float:
    """Return the content of one bottle, mL."""
    return tonight.stock_ml.get(liquid.name, liquid.stock_ml)


def usable_ml(tonight: Tonight, liquid: Input) -> float:
    """Return what the pump can have of one bottle, mL: all but what lies below the end of its tube."""
    return max(stock_of(tonight, liquid) - liquid.unreachable_ml, 0.0)


def figure_findings(tonight: Tonight) -> Iterator[Refusal]:
    """Refuse figures that no tank or bottle can have: negative, infinite, not a number."""
    figures = [("heel", tonight.heel_l, "L")]
    if tonight.heel_age_s is not None:
        figures.append(("age of the heel", tonight.heel_age_s, "s"))
    if tonight.final_l is not None:
        figures.append(("final volume", tonight.final_l, "L"))
    figures += [(f"stock of {name}", ml, "mL") for name, ml in tonight.stock_ml.items()]
    for what, value, unit in figures:
        if not (math.isfinite(value) and value >= 0):
            yield Refusal(
                Rule.FIGURES, what, f"{plain_number(value)} {unit}", "measure it again; it must be 0 or more"
            )
