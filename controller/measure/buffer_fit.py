"""What a tank will probably need to be carried from one pH to another, by all that was seen of it.

A weighted least-squares fit of credible waters and trim inputs, averaged by how well each explains the
answers. What it needs at least is `buffer_bound.py`; which doses follow is `trim.py`.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from controller.measure.buffering import (
    CREDIBLE_PK,
    LEAST_SPAN,
    TITRANTS,
    Direction,
    Titrant,
    Titration,
    spans,
)

# The mixtures that are compared: every way to share this many parts among the credible sites.
_PARTS = 3

# Sites that tell nothing on the way of a feed: ammonium below pH 7, free acid above it.
_LEFT_OUT = {Direction.DOWN: CREDIBLE_PK.index(2.15), Direction.UP: CREDIBLE_PK.index(9.25)}


@dataclass(frozen=True, slots=True)
class Evidence:
    """One answer and how far its amount may be off, as a share (one standard deviation)."""

    answer: Titration
    amount_doubt: float


def believed_ml_l(
    evidence: Sequence[Evidence], ph_from: float, ph_to: float, doubt_ph: float, given_ml_l: float = 0.0
) -> float | None:
    """Give the amount, in mL/L, that will most probably carry the tank between two pH.

    `evidence` is of one trim input, of which `given_ml_l` is in the tank by now. Every mixture of the
    credible sites with every credible trim input is scaled to it by weighted least squares; the needs that
    follow are averaged (geometric mean), each by how well it explains the evidence. None when no answer
    stands out of `doubt_ph`.
    """
    return Belief.of(evidence, doubt_ph, given_ml_l).ml_l(ph_from, ph_to)


_Mixture = tuple[tuple[int, float], ...]


@dataclass(frozen=True, slots=True)
class Belief:
    """Every mixture and trim input that may explain some evidence: misfit, protons for its whole take-up."""

    direction: Direction
    found: tuple[tuple[float, float, _Mixture, Titrant], ...]

    @classmethod
    def of(cls, evidence: Sequence[Evidence], doubt_ph: float, given_ml_l: float) -> Belief:
        """Fit them all; none is found when no answer stands out of `doubt_ph`."""
        pieces = [piece for piece in evidence if piece.answer.ml_l > 0]
        if not pieces or sum(piece.answer.moved_ph for piece in pieces) <= doubt_ph:
            return cls(Direction.DOWN, ())
        direction = pieces[0].answer.direction
        rows = [_Row.of(piece, doubt_ph) for piece in pieces]
        titrants = [(titrant, _amounts(titrant, pieces, given_ml_l)) for titrant in TITRANTS[direction]]
        found = []
        for mixture in _MIXTURES[direction]:
            blended = [_Blended.of(mixture, row) for row in rows]
            for titrant, amounts in titrants:
                fit = _fit(blended, amounts)
                if fit is not None:
                    found.append((fit[1], fit[0], mixture, titrant))
        return cls(direction, tuple(found))

    def ml_l(self, ph_from: float, ph_to: float) -> float | None:
        """Give the believed need between two pH, mL/L; None when nothing is believed."""
        if not self.found:
            return None
        way = spans(ph_from, ph_to)
        at_aim = {titrant: titrant.strength(self.direction, ph_to) for titrant in TITRANTS[self.direction]}
        best = min(misfit for misfit, _, _, _ in self.found)
        total = log_need = 0.0
        for misfit, scale, mixture, titrant in self.found:
            weight = math.exp((best - misfit) / 2.0)
            total += weight
            log_need += weight * math.log(max(scale * _blend(mixture, way) / at_aim[titrant], LEAST_SPAN))
        return math.exp(log_need / total)


@dataclass(frozen=True, slots=True)
class _Row:
    """One answer as the fit needs it: what each site takes up on its way, and on the doubt of its end."""

    amount_doubt: float
    spans: tuple[float, ...]
    slacks: tuple[float, ...]

    @classmethod
    def of(cls, piece: Evidence, doubt_ph: float) -> _Row:
        """Take up one piece of evidence; a way in the wrong direction counts negative."""
        answer = piece.answer
        sign = 1.0 if answer.moved_ph >= 0 else -1.0
        return cls(
            amount_doubt=piece.amount_doubt,
            spans=tuple(sign * span for span in spans(answer.ph_before, answer.ph_after)),
            slacks=spans(answer.ph_after - doubt_ph / 2.0, answer.ph_after + doubt_ph / 2.0),
        )


@dataclass(frozen=True, slots=True)
class _Blended:
    """One answer as one mixture sees it."""

    span: float
    slack: float
    amount_doubt: float

    @classmethod
    def of(cls, mixture: _Mixture, row: _Row) -> _Blended:
        """Say what the mixture takes up on the way of the answer, and on the doubt of its end."""
        return cls(_blend(mixture, row.spans), _blend(mixture, row.slacks), row.amount_doubt)


def _amounts(titrant: Titrant, pieces: Sequence[Evidence], given_ml_l: float) -> tuple[float, ...]:
    """Give the protons of each answer, if the trim input were this one."""
    return tuple(titrant.protons(piece.answer, given_ml_l) for piece in pieces)


def _fit(rows: Sequence[_Blended], amounts: Sequence[float]) -> tuple[float, float] | None:
    """Scale one mixture to the evidence: protons for its whole take-up, and the sum of squared misfits.

    None when the two contradict each other outright.
    """
    scale = sum(amounts) / max(sum(row.span for row in rows), LEAST_SPAN)
    misfit = 0.0
    # What the doubt of a reading is worth depends on the scale that is sought: two rounds are enough.
    for _ in range(2):
        met = norm = square = 0.0
        for row, amount in zip(rows, amounts, strict=True):
            variance = (scale * row.slack) ** 2 + (row.amount_doubt * amount) ** 2 + LEAST_SPAN**2
            met += row.span * amount / variance
            norm += row.span * row.span / variance
            square += amount * amount / variance
        if met <= 0.0:
            return None
        scale = met / norm
        misfit = square - met * scale
    return scale, max(misfit, 0.0)


def _blend(mixture: _Mixture, taken: tuple[float, ...]) -> float:
    """Give what a mixture takes up."""
    blend = 0.0
    for site, share in mixture:
        blend += share * taken[site]
    return blend


def _shared(sites: int, parts: int) -> Iterator[tuple[int, ...]]:
    """Give every way to share `parts` among `sites`."""
    if sites == 1:
        yield (parts,)
        return
    for first in range(parts + 1):
        for rest in _shared(sites - 1, parts - first):
            yield (first, *rest)


def _mixtures(left_out: int) -> tuple[_Mixture, ...]:
    """Give every mixture of all credible sites but one."""
    sites = [site for site in range(len(CREDIBLE_PK)) if site != left_out]
    return tuple(
        tuple((site, part / _PARTS) for site, part in zip(sites, parts, strict=True) if part)
        for parts in _shared(len(sites), _PARTS)
    )


_MIXTURES = {direction: _mixtures(left_out) for direction, left_out in _LEFT_OUT.items()}
