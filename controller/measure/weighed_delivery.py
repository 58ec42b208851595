"""One weighed delivery of a calibration, and how a slip in the weighings is told. Only data lives here."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TypeVar

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class WeighedDelivery:
    """One delivery: its counts, and the net grams as typed. `line`: where it is written, from 1."""

    line: int
    counts: int
    grams: float
    liquid_c: float | None = None
    typed: str = ""

    @property
    def shown(self) -> str:
        """Write the weight as it was typed."""
        return f"{self.typed or format(self.grams, 'g')} g"


@dataclass(frozen=True, slots=True)
class Slip:
    """Something wrong with the weighings; `line` 0: with the series as a whole."""

    line: int
    problem: str
    remedy: str

    def __str__(self) -> str:
        """Say it in one line."""
        return (
            f"line {self.line}: {self.problem}; {self.remedy}"
            if self.line
            else f"{self.problem}; {self.remedy}"
        )


class WeighingsRefused(Exception):
    """The weighings cannot be used; str() gives one line a slip, each with the place it stands in."""

    def __init__(self, place: str, slips: Sequence[Slip]) -> None:
        self.slips = tuple(slips)
        super().__init__("\n".join(f"{place}: {slip}" for slip in slips))


def by_counts(deliveries: Sequence[WeighedDelivery], values: Sequence[T]) -> Mapping[int, list[T]]:
    """Sort values by the counts of their delivery, smallest first."""
    found: dict[int, list[T]] = {}
    for one, value in zip(deliveries, values, strict=True):
        found.setdefault(one.counts, []).append(value)
    return dict(sorted(found.items()))
