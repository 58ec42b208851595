"""How a weight fell while a pump turned, where it and the counts say different things: which is wrong?

Pure. It compares three stories of the same samples: the tube moved less all the time, nothing came for a
while, or the scale was moved. What follows from the answer is said elsewhere.

The stories end at the same two still weights, so none has a number to fit but its moment; they are compared
by their likelihood for equal Gaussian noise (Neyman and Pearson, Phil. Trans. A 231 (1933) 289, from memory).
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from enum import Enum

from controller.measure.weight_loss import SHAKEN_G, SHAKEN_SAMPLES

SURE, QUITE_SURE = 3.0, 6.0
"""Log likelihood ratios: odds of 20 and of 400 (common practice, no source)."""
STEP_GAIN = 10.0
"""A step of any size that explains so much more (log likelihood) is one; by chance once in some 20 000."""
MOMENTS = 40
"""So many moments, evenly spread, are tried for a pause."""

Samples = Sequence[tuple[float, float]]
"""What should have left by then, g, and what had left by the scale, g."""


class Course(Enum):
    """What the weight did.

    STEP: it jumped and the loss went on; PAUSE: nothing left for a while; UNEVEN: one of the two.
    """

    EVEN = "even"
    STEP = "step"
    PAUSE = "pause"
    UNEVEN = "uneven"
    UNDECIDED = "undecided"


def course(samples: Samples, counted_g: float, lost_g: float) -> Course:
    """Say how `lost_g`, by still weights, came to differ from `counted_g`.

    EVEN only if the loss kept step with the counts and no jump of the whole difference is as likely: few
    samples, or a small difference in much noise, are UNDECIDED. The noise is taken from neighbours.
    """
    if len(samples) < 2 or counted_g <= 0.0:
        return Course.UNDECIDED
    jump_g, share = counted_g - lost_g, lost_g / counted_g
    noise2 = 2.0 * _noise2(samples)
    even = sum((g - share * e) ** 2 for e, g in samples)
    step = _least_stepped2(samples, jump_g)
    pause = _least_paused2(samples, counted_g - jump_g, jump_g) if 0.0 < jump_g <= counted_g else math.inf
    best, apart2 = min(even, pause), QUITE_SURE * noise2
    if best - step >= apart2:
        return Course.STEP
    if min(even, step) - pause >= apart2:
        return Course.PAUSE
    if even - min(step, pause) >= apart2 or _gain(samples, share, counted_g) >= STEP_GAIN * noise2:
        return Course.UNEVEN
    return Course.EVEN if step - even >= SURE * noise2 else Course.UNDECIDED


def _noise2(samples: Samples) -> float:
    """Give the variance of one sample, by the differences of neighbours, with a guess to begin with."""
    off = [g - e for e, g in samples]
    steps2 = sum((b - a) ** 2 for a, b in itertools.pairwise(off)) / 2.0
    return (SHAKEN_SAMPLES * SHAKEN_G**2 + steps2) / (SHAKEN_SAMPLES + len(samples) - 1)


def _least_stepped2(samples: Samples, jump_g: float) -> float:
    """Give the squares left by the best moment for a jump in a loss that is as counted."""
    left = least = sum((g - e) ** 2 for e, g in samples)
    for e, g in reversed(samples):
        left += (g - e + jump_g) ** 2 - (g - e) ** 2
        least = min(least, left)
    return least


def _least_paused2(samples: Samples, last_g: float, missing_g: float) -> float:
    """Give the squares left by the best moment, `last_g` at the latest, for a pause of so much."""
    spread = samples[:: math.ceil(len(samples) / MOMENTS)]
    moments = [last_g, *(at_g for at_g, _ in spread if at_g < last_g)]
    return min(sum((g - e + min(max(e - at_g, 0.0), missing_g)) ** 2 for e, g in samples) for at_g in moments)


def _gain(samples: Samples, share: float, counted_g: float) -> float:
    """Give by how much the squares fall if a step of the best size and moment is allowed as well."""
    product = sum((g - share * e) * e for e, g in samples) / counted_g
    square = sum(e**2 for e, _ in samples) / counted_g**2
    most = 0.0
    for e, g in reversed(samples):
        product -= g - share * e
        square += 1.0 - 2.0 * e / counted_g
        most = max(most, product**2 / square if square > 0.0 else 0.0)
    return most
