"""What planning can find: the names of the rules, a refusal, and the error that carries all refusals at once.

Only data lives here. The rules themselves are beside what they judge: order, amounts, stock, mixing.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from controller.plan.steps import PlanWarning


class Rule(StrEnum):
    """Fixed short names of the rules of planning, as people and programs read them."""

    RECIPE = "known recipe"
    FIGURES = "sensible figures"
    FINAL_VOLUME = "final volume"
    HEEL = "heel"
    FIRST_FILL = "first fill"
    WATER_LEFT = "water left"
    CARTRIDGE = "carbon cartridge"
    TRIM_ROOM = "room for trims"
    LIVING_LAST = "living last"
    LISTED_ONCE = "listed once"
    ACID_AND_BASE = "acid and base apart"
    CALCIUM = "calcium apart from phosphate and sulfate"
    OXIDISER = "oxidiser apart"
    TRIM_INPUT = "trim input"
    FOAM = "no air on foam"
    HEEL_UNKNOWN = "what the heel holds"
    LABEL = "label range"
    FACTOR_OF_TEN = "factor of ten"
    SMALLEST_DOSE = "smallest dose"
    SLOWEST_PACE = "slowest pace"
    THICK = "pace of a thick liquid"
    NIGHT_CAP = "night cap"
    DOSE_CAP = "dose cap"
    STOCK = "stock"
    TRIM_STOCK = "trim stock"
    MIXING = "mixing correlation"
    RINSE = "rinse"
    VESSEL = "vessel"
    DILUTION = "dilution by hand"
    COUNTED_ONLY = "counted only"


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why a plan cannot be made: which rule, about what, the value that broke it, and what to do."""

    rule: Rule
    what: str
    value: str
    remedy: str

    def line(self) -> str:
        """Say it in one line."""
        return f"{self.what}: {self.value} ({self.rule}); {self.remedy}"


Finding = Refusal | PlanWarning


class PlanRefused(Exception):
    """No plan was made. `faults` holds every reason, not only the first."""

    def __init__(self, faults: tuple[Refusal, ...]) -> None:
        super().__init__("\n".join(fault.line() for fault in faults))
        self.faults = faults


def refusals_of(findings: Iterable[Finding]) -> tuple[Refusal, ...]:
    """Return the refusals among the findings, each once."""
    return tuple(finding for finding in dict.fromkeys(findings) if isinstance(finding, Refusal))


def refuse_if_any(findings: Iterable[Finding]) -> tuple[PlanWarning, ...]:
    """Return the warnings among the findings, each once; raise PlanRefused when there is a refusal."""
    once = tuple(dict.fromkeys(findings))
    faults = refusals_of(once)
    if faults:
        raise PlanRefused(faults)
    return tuple(finding for finding in once if isinstance(finding, PlanWarning))
