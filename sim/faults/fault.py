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
    SCALE = "a scale, by its name, an input on it, or the rinse pump"
    PERCENT = "so many of a hundred"
    PROBE = "the first pH probe, or the one that is named"
    SWITCH = "the switch between two pH probes"

    @property
    def placeholder(self) -> str:
        """Give what stands for it in lists; "" where it need not be named."""
        named = {Strikes.PERCENT: "PERCENT", Strikes.SCALE: "SCALE"}
        return "" if self in UNNAMED else named.get(self, "INPUT")


UNNAMED = (Strikes.ONE_THING, Strikes.PROBE, Strikes.SWITCH)
"""What may be struck without a colon."""
FIRST, SECOND = "first", "second"
PROBES = (FIRST, SECOND)
"""The pH probes by the names that a fault gives them."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault. In `words`, what happens in one sentence, "{of}" stands for what it strikes.

    Of a probe it is nothing for the only one that is meant without a name.
    """

    name: str
    words: str
    act: Act
    strikes: Strikes = Strikes.ONE_THING

    @property
    def form(self) -> str:
        """Give how it is written, e.g. `leak`, `probe-lost[:second]` or `blocked:INPUT`."""
        if self.strikes is Strikes.PROBE:
            return f"{self.name}[:{SECOND}]"
        return self.name if self.strikes in UNNAMED else f"{self.name}:{self.strikes.placeholder}"

    def told_of(self, of: str) -> str:
        """Give its words with what it strikes in them."""
        named = f"{of} " if self.strikes is Strikes.PROBE and of else of
        return self.words.replace("{of}", named.replace("_", " "))


def plainly(does: Callable[[SimRig], None]) -> Act:
    """Make the act of a fault that strikes but one thing."""
    return lambda rig, _of: does(rig)
