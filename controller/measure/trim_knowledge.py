"""What is known of one trim input in tonight's tank: by its answers, by memory, and how the two agree.

Turns answers into two amounts: the one believed to reach an aim, and the one that is safe. Which of them
counts, and every limit of the policy, is `trim.py`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from controller.measure.buffer_bound import least_ml_l
from controller.measure.buffer_fit import Belief, Evidence, believed_ml_l
from controller.measure.buffering import AMOUNT_DOUBT, TELLING_ML_L, Direction, Titration

# Tonight's tank may hold so many times less buffering than the remembered one, until it has answered.
UNCONFIRMED_TIMES = 3.5
UNCONFIRMED_DOUBT = 0.25

# Once tonight's answers stand this many doubts of a reading tall, memory is scaled to them; then only the
# shape of the curve is still taken on trust.
CONFIRMED_BY_DOUBTS = 5.0
CONFIRMED_TIMES = 1.1
CONFIRMED_DOUBT = 0.10


# A pK moves by at most so much a kelvin in the range of a feed: carbonic acid from 6.464 at 10 to 6.352 at
# 25 °C (Plummer & Busenberg 1982); far from its pK a site then takes up so many times more or less.
PK_PER_K = 0.0075


@dataclass(frozen=True, slots=True)
class Remembered:
    """Answers of earlier nights, in water `apart_k` warmer or cooler than tonight's."""

    answers: tuple[Titration, ...] = ()
    apart_k: float = 0.0

    @property
    def times(self) -> float:
        """How many times less buffering the other temperature alone may mean."""
        return math.pow(10.0, PK_PER_K * self.apart_k)


NOTHING = Remembered()


@dataclass(frozen=True, slots=True)
class Knowledge:
    """Answers to one trim input: tonight's, and remembered ones with how far they may be trusted.

    `given_ml_l` is what of it went in tonight, `doubt_ph` how far a reading of tonight may be off.
    """

    tonight: tuple[Titration, ...]
    remembered: tuple[Titration, ...]
    cautious: tuple[Titration, ...]
    remembered_doubt: float
    remembered_times: float
    doubt_ph: float
    given_ml_l: float

    def believed_ml_l(self, ph: float, aim_ph: float) -> float | None:
        """Give the amount in mL/L believed to reach the aim; None while nothing is known."""
        evidence = [Evidence(answer, AMOUNT_DOUBT) for answer in self.tonight]
        evidence += [Evidence(answer, self.remembered_doubt) for answer in self.remembered]
        return believed_ml_l(evidence, ph, aim_ph, self.doubt_ph, self.given_ml_l)

    def least_ml_l(self, ph: float, far_ph: float) -> float:
        """Give the amount in mL/L that by tonight's answers is sure not to pass the far edge; 0: none."""
        return least_ml_l(self.tonight, ph, far_ph, self.doubt_ph, self.given_ml_l)

    def recalled_ml_l(self, ph: float, far_ph: float) -> float:
        """Give the amount in mL/L that by memory, cautiously taken, does not pass the far edge; 0: none."""
        least = least_ml_l(self.cautious, ph, far_ph, self.doubt_ph, self.given_ml_l)
        return least / self.remembered_times


def knowledge(
    answers: Sequence[Titration],
    remembered: Remembered,
    direction: Direction,
    doubt_ph: float,
    given_ml_l: float,
) -> Knowledge:
    """Sort out what is known for one direction; memory is scaled to tonight once tonight tells enough."""
    tonight = _telling(answers, direction)
    memory = _telling(remembered.answers, direction)
    warmth_doubt = math.log(remembered.times)
    scales = _scales(tonight, memory, doubt_ph)
    if scales is None:
        doubt = math.hypot(UNCONFIRMED_DOUBT, warmth_doubt)
        times = UNCONFIRMED_TIMES * remembered.times
        return Knowledge(tonight, memory, memory, doubt, times, doubt_ph, given_ml_l)
    likely, cautious = scales
    return Knowledge(
        tonight,
        _scaled(memory, likely),
        _scaled(memory, cautious),
        math.hypot(CONFIRMED_DOUBT, warmth_doubt),
        CONFIRMED_TIMES * remembered.times,
        doubt_ph,
        given_ml_l,
    )


def _telling(answers: Sequence[Titration], direction: Direction) -> tuple[Titration, ...]:
    """Keep the answers to one direction that followed on an amount worth the name."""
    return tuple(
        answer for answer in answers if answer.direction is direction and answer.ml_l >= TELLING_ML_L
    )


def _scales(
    tonight: Sequence[Titration], memory: Sequence[Titration], doubt_ph: float
) -> tuple[float, float] | None:
    """Give how tonight's amounts compare with the remembered ones: likely, and taken cautiously."""
    if not tonight:
        return None
    ml_l = sum(answer.ml_l for answer in tonight)
    before, after, given_ml_l = tonight[0].ph_before, tonight[-1].ph_after, tonight[0].given_ml_l
    sign = tonight[0].direction.sign
    if (after - before) * sign < CONFIRMED_BY_DOUBTS * doubt_ph:
        return None
    evidence = [Evidence(answer, AMOUNT_DOUBT) for answer in memory]
    wider_ph = doubt_ph * sign
    belief = Belief.of(evidence, doubt_ph, given_ml_l)
    likely = belief.ml_l(before, after)
    most = belief.ml_l(before - wider_ph, after + wider_ph)
    if not likely or not most:
        return None
    return ml_l / likely, ml_l / most


def _scaled(memory: Sequence[Titration], scale: float) -> tuple[Titration, ...]:
    """Give the remembered answers with every amount times `scale`."""
    return tuple(
        replace(answer, ml_l=answer.ml_l * scale, given_ml_l=answer.given_ml_l * scale) for answer in memory
    )
