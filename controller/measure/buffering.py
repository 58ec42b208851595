"""How a tank's water and a trim input take up and give protons: the words, and the shapes that are credible.

Water is seen as a mixture of weak-acid sites, a trim input as a strong acid or base with sites of its own,
which stay in the tank. Amounts scale with what was seen, so that neither the strength of the trim input nor
the composition of the water need be known. What follows from answers is `buffer_bound.py` (at least) and
`buffer_fit.py` (probably); no limits, no policy and no decision live here.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import Enum

# pK at 25 °C: phosphoric 2.148 and 7.198 (Goldberg et al. 2002; from memory), acetic and citric 4.76
# (Goldberg et al. 2002), carbonic 6.352 (Plummer & Busenberg 1982), ammonium 9.244 (NIST 46). They stand for
# what a feed tank can hold; well above its pK the first one stands for the free acid of plain water too.
CREDIBLE_PK = (2.15, 4.76, 6.35, 7.20, 9.25)

# One standard deviation of what a calibrated pump delivers, as a share (common practice, no source).
AMOUNT_DOUBT = 0.03

# An amount below this tells nothing about the water (1 drop in 50 000 L).
TELLING_ML_L = 1e-6

LEAST_SPAN = 1e-9


class Direction(Enum):
    """Which way a trim input moves pH."""

    DOWN = "down"
    UP = "up"

    @property
    def sign(self) -> int:
        """Give -1 for down and +1 for up."""
        return -1 if self is Direction.DOWN else 1

    @classmethod
    def between(cls, ph_from: float, ph_to: float) -> Direction:
        """Give the direction that leads from one pH to another."""
        return cls.UP if ph_to > ph_from else cls.DOWN


@dataclass(frozen=True, slots=True)
class Titration:
    """One observed answer: `ml_l` of trim input per litre of tank took pH from `ph_before` to `ph_after`.

    A jar test is one too. `given_ml_l` of the same trim input was in the water before; `doubt_ph` is how far
    each of the two readings may be off. Raises ValueError on values that are not finite or are negative.
    """

    direction: Direction
    ml_l: float
    ph_before: float
    ph_after: float
    given_ml_l: float = 0.0
    doubt_ph: float = 0.0

    def __post_init__(self) -> None:
        amounts = (self.ml_l, self.given_ml_l, self.doubt_ph)
        if not all(map(math.isfinite, (*amounts, self.ph_before, self.ph_after))) or min(amounts) < 0:
            raise ValueError(
                f"no titration: {self.ml_l} mL/L took pH from {self.ph_before} to {self.ph_after}"
            )

    @property
    def moved_ph(self) -> float:
        """How far pH went in the wanted direction (negative: it went the other way)."""
        return (self.ph_after - self.ph_before) * self.direction.sign


@dataclass(frozen=True, slots=True)
class Titrant:
    """A credible trim input: by mL a part that is always strong, and a part bound to each credible site."""

    strong: float
    sites: tuple[float, ...]

    def strength(self, direction: Direction, ph: float) -> float:
        """Give the protons that it gives (an acid) or takes (a base) at a pH, for its strong part 1."""
        down = direction is Direction.DOWN
        return self.strong + sum(
            share * (dissociated(pk, ph) if down else 1.0 - dissociated(pk, ph))
            for share, pk in zip(self.sites, CREDIBLE_PK, strict=True)
            if share
        )

    def protons(self, answer: Titration, given_ml_l: float) -> float:
        """Give what the water of now, with `given_ml_l` of it inside, would take up on the way of an answer.

        What was dosed stays in the water and goes on taking up: (given + ml) n(after) - given n(before) is
        what the water of then took up, with n the strength; the sites that came since would take up more.
        """
        before = self.strength(answer.direction, answer.ph_before)
        after = self.strength(answer.direction, answer.ph_after)
        return answer.ml_l * after + (given_ml_l - answer.given_ml_l) * (before - after)


# Sulfuric and nitric; phosphoric; citric; acetic. Hydroxide; carbonate and limestone; bicarbonate.
TITRANTS = {
    Direction.DOWN: (
        Titrant(1.0, (0.0, 0.0, 0.0, 0.0, 0.0)),
        Titrant(1.0, (0.0, 0.0, 0.0, 1.0, 0.0)),
        Titrant(1.0, (0.0, 1.0, 1.0, 0.0, 0.0)),
        Titrant(0.0, (0.0, 1.0, 0.0, 0.0, 0.0)),
    ),
    Direction.UP: (
        Titrant(1.0, (0.0, 0.0, 0.0, 0.0, 0.0)),
        Titrant(1.0, (0.0, 0.0, 1.0, 0.0, 0.0)),
        Titrant(0.0, (0.0, 0.0, 1.0, 0.0, 0.0)),
    ),
}


def dissociated(pk: float, ph: float) -> float:
    """Give the share of a weak acid that has given up its proton (Henderson-Hasselbalch)."""
    return 1.0 / (1.0 + math.pow(10.0, pk - ph))


def taken_up(pk: float, ph_from: float, ph_to: float) -> float:
    """Give the share of a weak-acid site of `pk` that changes its form between two pH (0..1)."""
    return abs(dissociated(pk, ph_from) - dissociated(pk, ph_to))


def spans(ph_from: float, ph_to: float) -> tuple[float, ...]:
    """Give what each credible site takes up between two pH."""
    return tuple(taken_up(pk, ph_from, ph_to) for pk in CREDIBLE_PK)
