"""Weighted least squares for a handful of unknowns: the estimates, and how they vary. Arithmetic only."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

_SINGULAR = 1e-12


@dataclass(frozen=True, slots=True)
class Fitted:
    """Estimates in order of the columns, their covariance, and how far the rows lie off.

    `covariance` follows from the weights alone; `birge` is the root of chi-squared over `dof`: above 1 the
    rows scatter more than their weights say.
    """

    values: tuple[float, ...]
    covariance: tuple[tuple[float, ...], ...]
    birge: float
    dof: int

    def deviation(self, place: int) -> float:
        """Give the standard uncertainty of one estimate, widened by `birge` where that is above 1."""
        return math.sqrt(self.covariance[place][place]) * max(self.birge, 1.0)


def fit(rows: Sequence[Sequence[float]], seen: Sequence[float], deviations: Sequence[float]) -> Fitted:
    """Fit seen = rows x values, every row with its own standard deviation (above 0), by normal equations.

    Uncertainties by the covariance of the weighted fit (JCGM 100:2008, H.3, for a straight line), scaled by
    the Birge ratio (R. T. Birge, Phys. Rev. 40 (1932) 207). ValueError when the rows cannot tell the
    unknowns apart, or are no more than these.
    """
    unknowns, dof = len(rows[0]), len(rows) - len(rows[0])
    if dof < 1:
        raise ValueError(f"{len(rows)} rows cannot give {unknowns} values and their doubt")
    weights = [deviation**-2 for deviation in deviations]
    # Columns of like size, so that counts in thousands beside a constant lose no digits.
    sizes = [
        math.sqrt(math.fsum(w * row[i] ** 2 for w, row in zip(weights, rows, strict=True)))
        for i in range(unknowns)
    ]
    if min(sizes) == 0.0:
        raise ValueError("a column of zeros tells nothing")
    normal = [
        [
            math.fsum(w * row[i] * row[j] for w, row in zip(weights, rows, strict=True)) / sizes[i] / sizes[j]
            for j in range(unknowns)
        ]
        for i in range(unknowns)
    ]
    right = [
        math.fsum(w * row[i] * y for w, row, y in zip(weights, rows, seen, strict=True)) / sizes[i]
        for i in range(unknowns)
    ]
    inverse = _inverse(normal)
    values = tuple(
        math.fsum(inverse[i][j] * right[j] for j in range(unknowns)) / sizes[i] for i in range(unknowns)
    )
    covariance = tuple(
        tuple(inverse[i][j] / sizes[i] / sizes[j] for j in range(unknowns)) for i in range(unknowns)
    )
    off = [
        y - math.fsum(value * part for value, part in zip(values, row, strict=True))
        for row, y in zip(rows, seen, strict=True)
    ]
    chi_squared = math.fsum(w * one**2 for w, one in zip(weights, off, strict=True))
    return Fitted(values, covariance, math.sqrt(chi_squared / dof), dof)


def _inverse(matrix: list[list[float]]) -> list[list[float]]:
    """Invert a small matrix by Gauss-Jordan with the largest pivot first."""
    size = len(matrix)
    work = [[*row, *(1.0 if i == j else 0.0 for j in range(size))] for i, row in enumerate(matrix)]
    for column in range(size):
        pivot = max(range(column, size), key=lambda row: abs(work[row][column]))
        if abs(work[pivot][column]) < _SINGULAR:
            raise ValueError("the rows cannot tell the unknowns apart")
        work[column], work[pivot] = work[pivot], work[column]
        work[column] = [value / work[column][column] for value in work[column]]
        for row in range(size):
            if row != column:
                factor = work[row][column]
                work[row] = [a - factor * b for a, b in zip(work[row], work[column], strict=True)]
    return [row[size:] for row in work]
