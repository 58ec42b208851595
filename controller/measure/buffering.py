"""How a tank's water takes up acid or base: what was seen, what it will need, what it needs at least.

Water is seen as a mixture of weak-acid sites. Between two pH values a site of a given pK takes up the
share `taken_up`; amounts scale with what was seen, so neither the strength of the corrective nor the
composition of the water need be known. No limits, no policy and no decision live here (see `trim.py`).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import Enum
from itertools import pairwise

# pK at 25 °C: acetic and citric 4.76 (Goldberg et al. 2002), carbonic 6.352 (Plummer & Busenberg 1982),
# phosphoric 7.198 (Goldberg et al. 2002; from memory). They stand for what a feed tank can hold.
CREDIBLE_PK = (4.76, 6.35, 7.20)

# The mixtures that are compared: every way to share ten tenths among the credible sites.
_TENTHS = 10

# One standard deviation of what a calibrated pump delivers, as a share (common practice, no source).
_AMOUNT_DOUBT = 0.03

# A remembered answer belongs to other water: last night's supply may be this much off, as a share.
_REMEMBERED_DOUBT = 0.25

_LEAST_SPAN = 1e-9


class Direction(Enum):
    """Which way a corrective moves pH."""

    DOWN = "down"
    UP = "up"

    @property
    def sign(self) -> int:
        """Give -1 for down and +1 for up."""
        return -1 if self is Direction.DOWN else 1


@dataclass(frozen=True, slots=True)
class Titration:
    """One observed answer: `ml_l` of corrective per litre of tank took pH from `ph_before` to `ph_after`.

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


def taken_up(pk: float, ph_from: float, ph_to: float) -> float:
    """Give the share of a weak-acid site of `pk` that changes its form between two pH (0..1)."""
    return abs(_dissociated(pk, ph_from) - _dissociated(pk, ph_to))


def least_ml_l(
    seen: Sequence[Titration], direction: Direction, ph: float, edge_ph: float, doubt_ph: float
) -> float:
    """Give the smallest amount, in mL/L, that could carry the tank from `ph` to `edge_ph`.

    The whole answer is taken to have come from the credible site that runs out soonest, and the readings
    to have been wrong by `doubt_ph` in the unlucky direction. A mixture of sites needs at least what its
    worst site would. Each answer alone, and each unbroken row of the latest answers, is such a bound;
    the largest holds. 0 when nothing has been seen or when `ph` may already be at the edge.
    """
    sign = direction.sign
    near_ph = ph + sign * doubt_ph
    if (edge_ph - near_ph) * sign <= 0:
        return 0.0
    bounds = [0.0]
    for answer in [*_rows(_going(seen, direction)), *_going(seen, direction)]:
        wide_from = answer.ph_before - sign * doubt_ph
        wide_to = answer.ph_after + sign * doubt_ph
        if answer.ml_l <= 0 or (wide_to - wide_from) * sign <= 0:
            continue
        ratio = min(
            taken_up(pk, near_ph, edge_ph) / max(taken_up(pk, wide_from, wide_to), _LEAST_SPAN)
            for pk in CREDIBLE_PK
        )
        bounds.append(answer.ml_l * ratio)
    return max(bounds)


def believed_ml_l(
    seen: Sequence[Titration],
    remembered: Sequence[Titration],
    direction: Direction,
    ph: float,
    aim_ph: float,
    doubt_ph: float,
) -> float | None:
    """Give the amount, in mL/L, that will most probably carry the tank from `ph` to `aim_ph`.

    Every mixture of the credible sites is scaled to the answers by weighted least squares; the needs that
    follow are averaged (geometric mean), each by how well its mixture explains what was seen. None when
    no answer stands out of `doubt_ph`.
    """
    answers = [(a, _AMOUNT_DOUBT) for a in _going(seen, direction)]
    answers += [(a, _REMEMBERED_DOUBT) for a in _going(remembered, direction)]
    answers = [(a, doubt) for a, doubt in answers if a.ml_l > 0]
    if sum(a.moved_ph for a, _ in answers) <= doubt_ph:
        return None
    fits = [fit for shares in _mixtures() if (fit := _fit(shares, answers, doubt_ph)) is not None]
    if not fits:
        return None
    best = min(fit.misfit for fit in fits)
    total = log_need = 0.0
    for fit in fits:
        weight = math.exp((best - fit.misfit) / 2.0)
        total += weight
        log_need += weight * math.log(max(fit.ml_l * _blend(fit.shares, ph, aim_ph), _LEAST_SPAN))
    return math.exp(log_need / total)


@dataclass(frozen=True, slots=True)
class _Fit:
    """One mixture scaled to the answers: `ml_l` for its whole take-up, and its sum of squared misfits."""

    shares: tuple[float, ...]
    ml_l: float
    misfit: float


def _fit(
    shares: tuple[float, ...], answers: Sequence[tuple[Titration, float]], doubt_ph: float
) -> _Fit | None:
    """Scale one mixture to the answers; None when they contradict it outright."""
    spans = [math.copysign(_blend(shares, a.ph_before, a.ph_after), a.moved_ph) for a, _ in answers]
    # What a reading doubt is worth in take-up, at the place on the curve where it was read.
    slacks = [_blend(shares, a.ph_after - doubt_ph, a.ph_after + doubt_ph) / 2.0 for a, _ in answers]
    scale = sum(a.ml_l for a, _ in answers) / max(sum(spans), _LEAST_SPAN)
    for _ in range(2):
        variances = [
            (scale * slack) ** 2 + (doubt * a.ml_l) ** 2
            for (a, doubt), slack in zip(answers, slacks, strict=True)
        ]
        weighted = [span / v for span, v in zip(spans, variances, strict=True)]
        numerator = sum(w * a.ml_l for w, (a, _) in zip(weighted, answers, strict=True))
        denominator = sum(w * span for w, span in zip(weighted, spans, strict=True))
        if numerator <= 0 or denominator <= 0:
            return None
        scale = numerator / denominator
    misfit = sum(
        (a.ml_l - scale * span) ** 2 / v for (a, _), span, v in zip(answers, spans, variances, strict=True)
    )
    return _Fit(shares, scale, misfit)


def _blend(shares: tuple[float, ...], ph_from: float, ph_to: float) -> float:
    """Give the take-up of a mixture of the credible sites between two pH."""
    return sum(
        share * taken_up(pk, ph_from, ph_to) for share, pk in zip(shares, CREDIBLE_PK, strict=True) if share
    )


def _mixtures() -> Iterator[tuple[float, ...]]:
    """Give every mixture of the credible sites in tenths."""
    for first in range(_TENTHS + 1):
        for second in range(_TENTHS + 1 - first):
            third = _TENTHS - first - second
            yield first / _TENTHS, second / _TENTHS, third / _TENTHS


def _going(answers: Sequence[Titration], direction: Direction) -> list[Titration]:
    """Keep the answers to correctives of one direction."""
    return [answer for answer in answers if answer.direction is direction]


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
