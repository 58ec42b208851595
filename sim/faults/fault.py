"""What a fault is: a name, words, what it strikes and how. No fault is named here."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from sim.rig import SimRig

Act = Callable[["SimRig", str], None]
"""Does it to a rig; the text is what it strikes, "" where there is but one such thing."""


class UnknownFault(ValueError):
    """No fault has this name, or it cannot strike what was named. The text says which and why."""


class Strikes(Enum):
    """What a fault strikes, and so what stands behind its colon."""

    ONE_THING = "the only one of its kind"
    PUMP = "a pump, by its input"
    BOTTLE = "a bottle, by its input"
    AGITATOR = "an agitator, by the input it moves"
    SCALE = "a scale, by the input on it"
    PERCENT = "so many of a hundred"

    @property
    def placeholder(self) -> str:
        """Give what stands for it in lists."""
        return "PERCENT" if self is Strikes.PERCENT else "INPUT"


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault. In `words`, what happens in one sentence, "{of}" stands for what it strikes."""

    name: str
    words: str
    act: Act
    strikes: Strikes = Strikes.ONE_THING

    @property
    def form(self) -> str:
        """Give how it is written, e.g. `leak` or `blocked:INPUT`."""
        return self.name if self.strikes is Strikes.ONE_THING else f"{self.name}:{self.strikes.placeholder}"


def plainly(does: Callable[[SimRig], None]) -> Act:
    """Make the act of a fault that strikes but one thing."""
    return lambda rig, _of: does(rig)
