"""When which fault strikes a rig. What a fault does is told in its family's file."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from sim.faults.book import fault_of

if TYPE_CHECKING:
    from sim.rig import SimRig


@dataclass(slots=True)
class FaultPlan:
    """Faults in order of their time, else as given; each is written as NAME or NAME:WHAT and strikes once.

    Raises UnknownFault for one that is none; what the rig's site does not have is refused as it strikes.
    """

    strikes: Sequence[tuple[float, str]]
    _next: int = field(default=0)

    def __post_init__(self) -> None:
        for _, text in self.strikes:
            fault_of(text)
        self.strikes = sorted(self.strikes, key=lambda strike: strike[0])

    @property
    def struck(self) -> tuple[tuple[float, str], ...]:
        """Give the faults that have struck so far, each with its moment."""
        return tuple(self.strikes[: self._next])

    @property
    def waiting(self) -> tuple[tuple[float, str], ...]:
        """Give the faults whose moment has not come yet."""
        return tuple(self.strikes[self._next :])

    def next_s(self, now_s: float) -> float | None:
        """Give the moment of the next fault."""
        return self.strikes[self._next][0] if self._next < len(self.strikes) else None

    def strike(self, rig: SimRig, now_s: float) -> None:
        """Do what is due."""
        while self._next < len(self.strikes) and self.strikes[self._next][0] <= now_s:
            fault, of = fault_of(self.strikes[self._next][1], rig.site)
            fault.act(rig, of)
            self._next += 1
