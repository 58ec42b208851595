"""What a row of the interlock table is made of: trip point, delay, response, blocked outputs, clear rule.

The words only. The rows are in `causes/`, the table in `interlock_table.py`, the judging in `interlocks.py`.
A trip point carries its test and the words for it, both made from the same numbers.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum, IntEnum

from controller.run.situation import Cause, Situation
from controller.settings.values import Rig, Site

SINGLE = "1 of 1"


class Output(Enum):
    """What can be blocked."""

    FILL = "fill valve"
    DOSE = "dosing pumps"
    STIR = "stir pump"
    AIR = "air pump"
    AGITATE = "stock agitators"
    DRAIN = "drain"
    PERMIT = "feed permit"


class Response(IntEnum):
    """What the run machine must do, worst last; the worst active one wins."""

    NONE = 0
    HOLD = 1
    STOP = 2
    ABORT = 3


class Clear(Enum):
    """When a cause that has gone is over."""

    BY_ITSELF = "when it has gone"
    ACKNOWLEDGED = "when it has gone and a person has acknowledged it"


class Priority(Enum):
    """How urgently a person must act (ISA-18.2 uses three or four; three serve one rig)."""

    LOW = "low"
    MEDIUM = "medium"
    HIGH = "high"


ALL = frozenset(Output)
WET = frozenset({Output.FILL, Output.DOSE})


@dataclass(frozen=True, slots=True)
class TripPoint:
    """A condition: its test, its words for one site, and how many of how many inputs make it."""

    test: Callable[[Situation, Rig], bool]
    words: Callable[[Site], str]
    voting: str = SINGLE


def seen(words: str, test: Callable[[Situation], bool], voting: str = SINGLE) -> TripPoint:
    """Make a trip point of something that is so or is not: a contact, a silence."""
    return TripPoint(lambda now, _rig: test(now), lambda _site: words, voting)


def above(what: str, value: Callable[[Situation], float], limit: float, unit: str) -> TripPoint:
    """Make a trip point of a figure that must not pass a limit."""
    return TripPoint(lambda now, _rig: value(now) > limit, lambda _site: f"{what} above {limit:g} {unit}")


def reported(cause: Cause, words: Callable[[Site], str]) -> TripPoint:
    """Make a trip point of what a phase reports; `words` say, with the phase's own numbers, when it does."""
    return TripPoint(lambda now, _rig: now.trouble is not None and now.trouble.cause is cause, words)


@dataclass(frozen=True, slots=True, kw_only=True)
class Interlock:
    """One row of the table. `consequence` and `remedy` are what the alarm tells a person.

    `behind`: while one of these causes is active this one acts as ever, but is not announced: it follows
    from it by design. `follows`: announced, but counted as a follower of one of these. `advises`: a person
    is told and has something to do, though the batch goes on.
    """

    cause: Cause
    trip: TripPoint
    response: Response
    blocks: frozenset[Output]
    clear: Clear
    priority: Priority
    consequence: str
    remedy: str
    delay_s: float = 0.0
    behind: frozenset[Cause] = frozenset()
    follows: frozenset[Cause] = frozenset()
    advises: bool = False

    @property
    def is_alarm(self) -> bool:
        """Tell whether it is announced at all: what nobody need respond to is no alarm (ISA-18.2)."""
        return self.acts or self.advises

    @property
    def acts(self) -> bool:
        """Tell whether the run machine answers it."""
        return self.response is not Response.NONE

    @property
    def may_be_shelved(self) -> bool:
        """Tell whether a person may silence it for a while: nothing of high priority, nothing that stops."""
        return self.priority is not Priority.HIGH and self.response is Response.HOLD
