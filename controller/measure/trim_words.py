"""The words of trimming pH: what was done tonight, and what may be decided.

Only frozen data lives here. Deciding is `trim.py`.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from itertools import pairwise

from controller.measure.buffering import Direction, Titration
from controller.settings.values import Input


class Obstacle(Enum):
    """Why trimming is given up. The value is the phrase that people read."""

    NO_READING = "the reading is not a pH"
    NO_TRIM_INPUT = "no trim input for this direction"
    NO_ANSWER = "pH does not answer"
    WRONG_WAY = "pH moved the wrong way"
    TOO_MANY_TRIMS = "too many trims"
    TOO_MANY_TURNS = "direction would change a second time"
    CAP_REACHED = "the cap of the night is reached"
    DOSE_TOO_COARSE = "the smallest dose could overshoot"


@dataclass(frozen=True, slots=True)
class TrimState:
    """Everything that was added to this tank tonight to trim pH, with the answers, in order.

    `waits` is how often the tank was given more time instead, `waited_ph` how far pH went in the last one
    since the last trim, towards where that trim goes; None: there was none. `waits_since` counts those.
    """

    answers: tuple[Titration, ...] = ()
    waits: int = 0
    waited_ph: float | None = None
    waits_since: int = 0

    @property
    def trims(self) -> int:
        """How many trims were dosed, both ways together."""
        return len(self.answers)

    @property
    def turns(self) -> int:
        """How often the direction changed."""
        return sum(one.direction is not other.direction for one, other in pairwise(self.answers))

    def added_ml_l(self, direction: Direction) -> float:
        """How much went one way, in mL per litre of tank."""
        return sum(answer.ml_l for answer in self.answers if answer.direction is direction)

    def memory(self, doubt_ph: float) -> tuple[Titration, ...]:
        """Give the answers worth remembering for the same recipe and water: those that stand out of doubt."""
        return tuple(answer for answer in self.answers if answer.moved_ph > doubt_ph)


@dataclass(frozen=True, slots=True)
class InWindow:
    """pH is in the window: nothing to add."""

    text: str


@dataclass(frozen=True, slots=True)
class Add:
    """Add `ml` of `input`. `believed_response_ph_per_ml` is signed; None when nothing is known yet.

    `believed` and `did` are for the record; `text` is both in one line.
    """

    input: Input
    direction: Direction
    ml: float
    believed_response_ph_per_ml: float | None
    believed: str
    did: str

    @property
    def text(self) -> str:
        """Say what is believed and what is done about it."""
        return f"{self.believed}; {self.did}"


@dataclass(frozen=True, slots=True)
class Wait:
    """Give what was dosed more time to dissolve, and look again: `believed` and `did` are for the record."""

    believed: str
    did: str

    @property
    def text(self) -> str:
        """Say what is believed and what is done about it."""
        return f"{self.believed}; {self.did}"


@dataclass(frozen=True, slots=True)
class GiveUp:
    """pH cannot be trimmed tonight without a person. The tank must not be fed."""

    obstacle: Obstacle
    reason: str
    remedy: str

    @property
    def text(self) -> str:
        """Say why, and what to do."""
        return f"{self.reason}; {self.remedy}"


TrimDecision = InWindow | Add | Wait | GiveUp
