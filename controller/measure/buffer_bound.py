"""What a tank needs at least to be carried to an edge: the bound that must never be too high.

Taken over every credible water and every credible trim input at once. What it probably needs is
`buffer_fit.py`; which doses follow is `trim.py`.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from controller.measure.buffering import (
    AMOUNT_DOUBT,
    LEAST_SPAN,
    TITRANTS,
    Direction,
    Titrant,
    Titration,
    spans,
)


def least_ml_l(
    seen: Sequence[Titration], ph: float, edge_ph: float, doubt_ph: float, given_ml_l: float = 0.0
) -> float:
    """Give the smallest amount, in mL/L, that could carry the tank from `ph` to `edge_ph`.

    `seen` are answers to one trim input, in order, and `given_ml_l` what of it is in the tank by now.
    Readings are taken to be wrong by `doubt_ph` in the unlucky direction, and water and trim input to be the
    unluckiest of the credible ones that could have given the answers: one answer alone may all have come
    from the site that runs out soonest; two tell whether buffering grows or fades. 0 when no answer tells
    anything, or `ph` may be at the edge already.
    """
    direction = Direction.between(ph, edge_ph)
    near_ph = ph + direction.sign * doubt_ph
    if (edge_ph - near_ph) * direction.sign <= 0:
        return 0.0
    ways = [way for way in _ways(seen) if way.moved_ph + 2.0 * doubt_ph > 0]
    if not ways:
        return 0.0
    need = spans(near_ph, edge_ph)
    widest = [_widened(way, doubt_ph) for way in ways]
    shortest = [_widened(way, -doubt_ph) if way.moved_ph > 2.0 * doubt_ph else None for way in ways]
    return min(
        _bound(_proofs(ways, widest, shortest, titrant, given_ml_l), need)
        / titrant.strength(direction, edge_ph)
        for titrant in TITRANTS[direction]
    )


@dataclass(frozen=True, slots=True)
class _Way:
    """An unbroken row of answers from one pH to another."""

    answers: tuple[Titration, ...]

    @property
    def moved_ph(self) -> float:
        first, last = self.answers[0], self.answers[-1]
        return (last.ph_after - first.ph_before) * first.direction.sign


@dataclass(frozen=True, slots=True)
class _Proof:
    """At least `least` protons went into what each site at most takes up on the way, and at most `most`
    into what it takes up there at least (None: it may be nothing).
    """

    least: float
    widest: tuple[float, ...]
    most: float
    shortest: tuple[float, ...] | None

    def fewest(self, need: Sequence[float]) -> float:
        """Give how many times this way any mixture must take to fill `need`."""
        return min(wanted / max(span, LEAST_SPAN) for wanted, span in zip(need, self.widest, strict=True))


def _ways(seen: Sequence[Titration]) -> Iterator[_Way]:
    """Give each answer, and each unbroken row that ends with the latest: on a long way noise weighs less."""
    tail = list(seen[-1:])
    for earlier, later in reversed(list(pairwise(seen))):
        if not math.isclose(earlier.ph_after, later.ph_before, abs_tol=1e-6):
            break
        tail.insert(0, earlier)
        yield _Way(tuple(tail))
    yield from (_Way((answer,)) for answer in seen if answer.ml_l > 0)


def _widened(way: _Way, doubt_ph: float) -> tuple[float, ...]:
    """Give what each site takes up on a way that is longer by `doubt_ph` at both ends."""
    first, last = way.answers[0], way.answers[-1]
    wider_ph = doubt_ph * first.direction.sign
    return spans(first.ph_before - wider_ph, last.ph_after + wider_ph)


def _proofs(
    ways: Sequence[_Way],
    widest: Sequence[tuple[float, ...]],
    shortest: Sequence[tuple[float, ...] | None],
    titrant: Titrant,
    given_ml_l: float,
) -> list[_Proof]:
    """Say of each way how much went in, if the trim input were this one."""
    proofs = []
    for way, wide, short in zip(ways, widest, shortest, strict=True):
        protons = sum(titrant.protons(answer, given_ml_l) for answer in way.answers)
        proofs.append(
            _Proof(protons * (1.0 - 2.0 * AMOUNT_DOUBT), wide, protons * (1.0 + 2.0 * AMOUNT_DOUBT), short)
        )
    return proofs


def _bound(proofs: Sequence[_Proof], need: tuple[float, ...]) -> float:
    """Give the best bound on the protons that any of the ways and any two of them prove."""
    bounds = [0.0]
    for proof in proofs:
        if proof.least > 0.0:
            bounds.append(proof.least * proof.fewest(need))
            bounds.extend(_pair_bound(need, proof, other) for other in proofs if other is not proof)
    return max(bounds)


def _pair_bound(need: tuple[float, ...], proof: _Proof, other: _Proof) -> float:
    """Give the bound that follows from one way once another has shown what the water cannot be.

    Linear programming duality: the least of need.x over mixtures x >= 0 with widest.x >= least and
    shortest.x <= most is at least u least - v most for every u, v >= 0 with u widest - v shortest <= need.
    For a given v the best u is plain, the smallest of one line a site; this walks along those lines while
    the bound rises. Every place on the way is a bound, so also the last one.
    """
    if other.shortest is None:
        return 0.0
    lines = [
        (wanted / max(wide, LEAST_SPAN), out / max(wide, LEAST_SPAN))
        for wanted, wide, out in zip(need, proof.widest, other.shortest, strict=True)
    ]
    at, slope = min(lines)
    v = 0.0
    while proof.least * slope > other.most:
        ties = [((start - at) / (slope - slower), start, slower) for start, slower in lines if slower < slope]
        if not ties:
            break
        v, at, slope = min(ties)
    return proof.least * (at + slope * v) - v * other.most
