"""How a tank's water takes up acid or base: what was seen, what it will need, what it needs at least.

Water is seen as a mixture of weak-acid sites. Between two pH values a site of a given pK takes up the
share `taken_up`; amounts scale with what was seen, so neither the strength of the trim input nor the
composition of the water need be known. No limits, no policy and no decision live here (see `trim.py`).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import Enum
from itertools import combinations, pairwise

# pK at 25 °C: acetic and citric 4.76 (Goldberg et al. 2002), carbonic 6.352 (Plummer & Busenberg 1982),
# phosphoric 7.198 (Goldberg et al. 2002; from memory), ammonium 9.244 (NIST 46). They stand for what a feed
# tank can hold.
CREDIBLE_PK = (4.76, 6.35, 7.20, 9.25)

# The mixtures that are compared: every way to share this many parts among the credible sites.
_PARTS = 4

# One standard deviation of what a calibrated pump delivers, as a share (common practice, no source).
AMOUNT_DOUBT = 0.03

# An amount below this tells nothing about the water (1 drop in 50 000 L).
TELLING_ML_L = 1e-6

_LEAST_SPAN = 1e-9


class Direction(Enum):
    """Which way a trim input moves pH."""

    DOWN = "down"
    UP = "up"

    @property
    def sign(self) -> int:
        """Give -1 for down and +1 for up."""
        return -1 if self is Direction.DOWN else 1


@dataclass(frozen=True, slots=True)
class Titration:
    """One observed answer: `ml_l` of trim input per litre of tank took pH from `ph_before` to `ph_after`.

    A jar test is one too. Raises ValueError on values that are not finite or on a negative amount.
    """

    direction: Direction
    ml_l: float
    ph_before: float
    ph_after: float

    def __post_init__(self) -> None:
        if not all(map(math.isfinite, (self.ml_l, self.ph_before, self.ph_after))) or self.ml_l < 0:
            raise ValueError(
                f"no titration: {self.ml_l} mL/L took pH from {self.ph_before} to {self.ph_after}"
            )

    @property
    def moved_ph(self) -> float:
        """How far pH went in the wanted direction (negative: it went the other way)."""
        return (self.ph_after - self.ph_before) * self.direction.sign

    def widened(self, doubt_ph: float) -> Titration:
        """Give the same amount over a way that is longer by `doubt_ph` at both ends."""
        wider_ph = doubt_ph * self.direction.sign
        return Titration(self.direction, self.ml_l, self.ph_before - wider_ph, self.ph_after + wider_ph)


@dataclass(frozen=True, slots=True)
class Evidence:
    """One answer and how far its amount may be off, as a share (one standard deviation)."""

    answer: Titration
    amount_doubt: float


def taken_up(pk: float, ph_from: float, ph_to: float) -> float:
    """Give the share of a weak-acid site of `pk` that changes its form between two pH (0..1)."""
    return abs(_dissociated(pk, ph_from) - _dissociated(pk, ph_to))


def least_ml_l(seen: Sequence[Titration], ph: float, edge_ph: float, doubt_ph: float) -> float:
    """Give the smallest amount, in mL/L, that could carry the tank from `ph` to `edge_ph`.

    `seen` are answers to one trim input, in order. Readings are taken to be wrong by `doubt_ph` in the
    unlucky direction, and the water to be the unluckiest mixture of the credible sites that could have given
    the answers: one answer alone may all have come from the site that runs out soonest; two tell whether
    buffering grows or fades. 0 when no answer tells anything, or `ph` may be at the edge already.
    """
    sign = 1 if edge_ph > ph else -1
    near_ph = ph + sign * doubt_ph
    if (edge_ph - near_ph) * sign <= 0:
        return 0.0
    need = _spans(near_ph, edge_ph)
    ways = [way for way in [*_rows(seen), *seen] if way.ml_l > 0]
    bounds = [0.0]
    for way in ways:
        widest = way.widened(doubt_ph)
        if widest.moved_ph <= 0:
            continue
        proof = _Proof(way.ml_l * (1.0 - 2.0 * AMOUNT_DOUBT), _spans(widest.ph_before, widest.ph_after))
        bounds.append(proof.ml_l * proof.fewest(need))
        bounds.extend(_pair_bound(need, proof, other, doubt_ph) for other in ways if other is not way)
    return max(bounds)


@dataclass(frozen=True, slots=True)
class _Proof:
    """At least `ml_l` went into what each site at most takes up on the way."""

    ml_l: float
    spans: tuple[float, ...]

    def fewest(self, need: Sequence[float]) -> float:
        """Give how many times this amount any mixture must take to fill `need`."""
        return min(wanted / max(span, _LEAST_SPAN) for wanted, span in zip(need, self.spans, strict=True))


def _pair_bound(need: tuple[float, ...], proof: _Proof, other: Titration, doubt_ph: float) -> float:
    """Give the bound that follows from one answer once another has shown what the water cannot be.

    Linear programming duality: the least of need.x over mixtures x >= 0 with spans.x >= ml and other.x <= ml'
    is at least u ml - v ml' for every u, v >= 0 with u spans - v other <= need. For a given v the best u
    is plain; the best v is where two sites tie. So every value that is tried is a bound.
    """
    shortest = other.widened(-doubt_ph)
    if shortest.moved_ph <= 0:
        return 0.0
    most_ml_l = other.ml_l * (1.0 + 2.0 * AMOUNT_DOUBT)
    ruled_out = _spans(shortest.ph_before, shortest.ph_after)
    best = 0.0
    for one, two in combinations(range(len(need)), 2):
        slope = ruled_out[one] * proof.spans[two] - ruled_out[two] * proof.spans[one]
        rise = need[two] * proof.spans[one] - need[one] * proof.spans[two]
        if slope == 0.0 or rise / slope <= 0.0:
            continue
        v = rise / slope
        eased = [wanted + v * span for wanted, span in zip(need, ruled_out, strict=True)]
        best = max(best, proof.ml_l * proof.fewest(eased) - v * most_ml_l)
    return best


def believed_ml_l(
    evidence: Sequence[Evidence], ph_from: float, ph_to: float, doubt_ph: float
) -> float | None:
    """Give the amount, in mL/L, that will most probably carry the tank between two pH.

    `evidence` is of one trim input. Every mixture of the credible sites is scaled to it by weighted least
    squares; the needs that follow are averaged (geometric mean), each by how well its mixture explains
    the evidence. None when no answer stands out of `doubt_ph`.
    """
    rows = [_Row.of(piece, doubt_ph) for piece in evidence if piece.answer.ml_l > 0]
    if not rows or sum(piece.answer.moved_ph for piece in evidence) <= doubt_ph:
        return None
    way = _spans(ph_from, ph_to)
    fits = [(fit, shares) for shares in _MIXTURES if (fit := _fit(shares, rows)) is not None]
    if not fits:
        return None
    best = min(fit.misfit for fit, _ in fits)
    total = log_need = 0.0
    for fit, shares in fits:
        weight = math.exp((best - fit.misfit) / 2.0)
        total += weight
        log_need += weight * math.log(max(fit.scale_ml_l * _blend(shares, way), _LEAST_SPAN))
    return math.exp(log_need / total)


@dataclass(frozen=True, slots=True)
class _Row:
    """One answer as the fit needs it: what each site takes up on its way, and on the doubt of its end."""

    ml_l: float
    amount_doubt: float
    spans: tuple[float, ...]
    slacks: tuple[float, ...]

    @classmethod
    def of(cls, piece: Evidence, doubt_ph: float) -> _Row:
        """Take up one piece of evidence; a way in the wrong direction counts negative."""
        answer = piece.answer
        sign = 1.0 if answer.moved_ph >= 0 else -1.0
        return cls(
            ml_l=answer.ml_l,
            amount_doubt=piece.amount_doubt,
            spans=tuple(sign * span for span in _spans(answer.ph_before, answer.ph_after)),
            slacks=_spans(answer.ph_after - doubt_ph / 2.0, answer.ph_after + doubt_ph / 2.0),
        )


@dataclass(frozen=True, slots=True)
class _Fit:
    """A mixture scaled to the evidence: mL/L for its whole take-up, and the sum of squared misfits."""

    scale_ml_l: float
    misfit: float


def _fit(shares: tuple[float, ...], rows: Sequence[_Row]) -> _Fit | None:
    """Scale one mixture to the evidence; None when the two contradict each other outright."""
    spans = [_blend(shares, row.spans) for row in rows]
    slacks = [_blend(shares, row.slacks) for row in rows]
    scale = sum(row.ml_l for row in rows) / max(sum(spans), _LEAST_SPAN)
    variances: list[float] = []
    # What the doubt of a reading is worth depends on the scale that is sought: two rounds are enough.
    for _ in range(2):
        variances = [
            (scale * slack) ** 2 + (row.amount_doubt * row.ml_l) ** 2
            for row, slack in zip(rows, slacks, strict=True)
        ]
        met = sum(span * row.ml_l / v for span, row, v in zip(spans, rows, variances, strict=True))
        if met <= 0:
            return None
        scale = met / sum(span * span / v for span, v in zip(spans, variances, strict=True))
    misfits = (
        (row.ml_l - scale * span) ** 2 / v for row, span, v in zip(rows, spans, variances, strict=True)
    )
    return _Fit(scale, sum(misfits))


def _spans(ph_from: float, ph_to: float) -> tuple[float, ...]:
    """Give what each credible site takes up between two pH."""
    return tuple(taken_up(pk, ph_from, ph_to) for pk in CREDIBLE_PK)


def _blend(shares: tuple[float, ...], spans: tuple[float, ...]) -> float:
    """Give what a mixture takes up."""
    return sum(share * span for share, span in zip(shares, spans, strict=True) if share)


def _mixtures(sites: int, parts: int) -> Iterator[tuple[int, ...]]:
    """Give every way to share `parts` among `sites`."""
    if sites == 1:
        yield (parts,)
        return
    for first in range(parts + 1):
        for rest in _mixtures(sites - 1, parts - first):
            yield (first, *rest)


_MIXTURES = tuple(tuple(part / _PARTS for part in mixture) for mixture in _mixtures(len(CREDIBLE_PK), _PARTS))


def _rows(answers: Sequence[Titration]) -> Iterator[Titration]:
    """Join each unbroken row that ends with the latest answer: over a longer way noise weighs less."""
    tail = list(answers[-1:])
    for earlier, later in reversed(list(pairwise(answers))):
        if not math.isclose(earlier.ph_after, later.ph_before, abs_tol=1e-6):
            return
        tail.append(earlier)
        yield Titration(earlier.direction, sum(t.ml_l for t in tail), earlier.ph_before, tail[0].ph_after)


def _dissociated(pk: float, ph: float) -> float:
    """Give the share of a weak acid that has given up its proton (Henderson-Hasselbalch)."""
    return 1.0 / (1.0 + math.pow(10.0, pk - ph))
