"""How the grains of a powder spread in size, cut into a few grades. No liquid and no bottle here."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from statistics import NormalDist

GRADES = 4
_NORMAL = NormalDist()


@dataclass(frozen=True, slots=True)
class Grade:
    """A share of the solids' volume that one size stands for."""

    volume_share: float
    size_um: float


def log_normal_grades(median_um: float, spread: float, grades: int = GRADES) -> tuple[Grade, ...]:
    """Cut a log-normal powder into grades of equal volume.

    `median_um` halves the volume, `spread` is the geometric standard deviation (ratio of the 84 % to the 50 %
    size by volume; 1 = all alike). A grade's size is the root of its mean square, in closed form from the
    moments of the log-normal distribution (Aitchison & Brown, 1957, from memory): settling goes with the
    square in the Stokes range, so each grade, and all together, start at the speed of the whole powder.
    That ground powders are about log-normal is common practice, no source. Raises ValueError for a spread
    below 1, a size that is not above 0, or no grades.
    """
    if spread < 1.0 or median_um <= 0.0 or grades < 1:
        raise ValueError(
            f"no powder has a median of {median_um} um, a spread of {spread} and {grades} grades"
        )
    if spread == 1.0:
        return (Grade(1.0, median_um),)
    sigma = math.log(spread)
    cuts = [_NORMAL.inv_cdf(cut / grades) for cut in range(1, grades)]
    # Distribution of the second moment by size: the same bell, shifted by twice its width.
    below = [0.0, *(_NORMAL.cdf(cut - 2.0 * sigma) for cut in cuts), 1.0]
    mean_square = [grades * (high - low) for low, high in pairwise(below)]
    return tuple(
        Grade(1.0 / grades, median_um * math.exp(sigma * sigma) * math.sqrt(square)) for square in mean_square
    )
