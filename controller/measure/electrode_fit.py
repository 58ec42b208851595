"""The straight line of an electrode through its buffers: offset, slope share, what is left, how sure it is.

Arithmetic only; what it says about the electrode is `electrode_calibration.py`.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from controller.measure.buffers import Buffer
from controller.measure.electrode import nernst_slope_mv

COVERAGE = 2.0
"""Expanded uncertainties are given for k = 2, about 95 % (GUM 6.3.3)."""
ISOPOTENTIAL_SPREAD_K = 10.0


@dataclass(frozen=True, slots=True)
class BufferReading:
    """One buffer with the electrode at rest in it: mean voltage, its standard uncertainty, temperature.

    `t95_s` is how long the electrode took to 95 % of the step from the bottle before; None when unknown.
    """

    buffer: Buffer
    mv: float
    temperature_c: float
    doubt_mv: float = 0.1
    t95_s: float | None = None

    @property
    def ph(self) -> float:
        """Give the buffer's pH at its temperature (BufferFault)."""
        return self.buffer.ph_at(self.temperature_c)


@dataclass(frozen=True, slots=True)
class Line:
    """Offset at the isopotential pH and slope share. `left_ph` are residuals in pH; uncertainties k = 2."""

    offset_mv: float
    slope_share: float
    isopotential_ph: float
    left_ph: tuple[float, ...]
    offset_uncertainty_mv: float
    slope_uncertainty: float

    def mv_at(self, ph: float, temperature_c: float) -> float:
        """Give the voltage of this electrode at a pH."""
        return self.offset_mv - self.slope_share * nernst_slope_mv(temperature_c) * (
            ph - self.isopotential_ph
        )


def fit_line(
    readings: Sequence[BufferReading],
    isopotential_ph: float,
    ph_of: Callable[[BufferReading], float] | None = None,
) -> Line:
    """Fit mV = offset - share k(T) (pH - isopotential) by least squares; ValueError below two buffers apart.

    Each reading counts by its own uncertainty: that of the buffer and that of the voltage, added in squares
    (GUM 5.1.2). The uncertainties of offset and share are carried through from these, not taken from the
    residuals: two points leave none. `ph_of` stands in for the buffer's own table.
    """
    asked = ph_of or (lambda reading: reading.ph)
    k = [nernst_slope_mv(reading.temperature_c) for reading in readings]
    x = [-slope * (asked(reading) - isopotential_ph) for slope, reading in zip(k, readings, strict=True)]
    mv = [reading.mv for reading in readings]
    weight = [
        1.0 / ((slope * reading.buffer.doubt_ph) ** 2 + reading.doubt_mv**2)
        for slope, reading in zip(k, readings, strict=True)
    ]
    total = math.fsum(weight)
    mean_x = math.fsum(w * a for w, a in zip(weight, x, strict=True)) / total
    mean_mv = math.fsum(w * b for w, b in zip(weight, mv, strict=True)) / total
    spread = math.fsum(w * (a - mean_x) ** 2 for w, a in zip(weight, x, strict=True))
    if len(readings) < 2 or spread <= 0.0:
        raise ValueError("a line needs two buffers of different pH")
    share = math.fsum(w * (a - mean_x) * b for w, a, b in zip(weight, x, mv, strict=True)) / spread
    offset_mv = mean_mv - share * mean_x
    left = tuple(
        (offset_mv + share * a - b) / (share * slope) if share else math.inf
        for a, b, slope in zip(x, mv, k, strict=True)
    )
    return Line(
        offset_mv=offset_mv,
        slope_share=share,
        isopotential_ph=isopotential_ph,
        left_ph=left,
        offset_uncertainty_mv=COVERAGE * math.sqrt(1.0 / total + mean_x**2 / spread),
        slope_uncertainty=COVERAGE / math.sqrt(spread),
    )


def isopotential_ph(readings: Sequence[BufferReading]) -> float | None:
    """Find the pH at which temperature changes nothing, from buffers read at two temperatures.

    mV = E - share k pH + (share iso) k is linear in E, share and share iso (least squares over three or more
    readings). None where they do not settle it: below three readings, or less than 10 K apart in one buffer.
    A real electrode's lies up to 2 pH off 7 (Analyst 112 (1987) 581, abstract).
    """
    by_buffer: dict[str, list[float]] = {}
    for reading in readings:
        by_buffer.setdefault(reading.buffer.label, []).append(reading.temperature_c)
    widest_k = max((max(c) - min(c) for c in by_buffer.values()), default=0.0)
    if len(readings) < 3 or len(by_buffer) < 2 or widest_k < ISOPOTENTIAL_SPREAD_K:
        return None
    rows = [
        (1.0, -nernst_slope_mv(one.temperature_c) * one.ph, nernst_slope_mv(one.temperature_c))
        for one in readings
    ]
    solved = _least_squares(rows, [one.mv for one in readings])
    return None if solved is None or solved[1] == 0.0 else solved[2] / solved[1]


def isopotential_uncertainty(readings: Sequence[BufferReading]) -> float | None:
    """Give the uncertainty (k = 2) of `isopotential_ph`, pH; None where that is None.

    By the change that each voltage's own doubt, and each bottle's for all its readings, makes in it, added in
    squares (GUM 5.1.2). That of the thermometer is not in it: below 0.01 pH for 0.1 K (buffers 4 and 7, 20 K
    apart, computed).
    """
    best = isopotential_ph(readings)
    if best is None:
        return None
    shifts = [{place: one.doubt_mv} for place, one in enumerate(readings)]
    for buffer in {one.buffer for one in readings}:
        of_buffer = [(place, one) for place, one in enumerate(readings) if one.buffer == buffer]
        shifts.append(
            {place: nernst_slope_mv(one.temperature_c) * buffer.doubt_ph for place, one in of_buffer}
        )
    changes = []
    for shift in shifts:
        moved = [replace(one, mv=one.mv + shift.get(place, 0.0)) for place, one in enumerate(readings)]
        other = isopotential_ph(moved)
        changes.append(math.inf if other is None else other - best)
    return COVERAGE * math.sqrt(math.fsum(change**2 for change in changes))


def _least_squares(rows: Sequence[tuple[float, ...]], values: Sequence[float]) -> list[float] | None:
    """Solve the normal equations by elimination with pivots; None when they are singular."""
    n = len(rows[0])
    table = [
        [math.fsum(row[i] * row[j] for row in rows) for j in range(n)]
        + [math.fsum(row[i] * value for row, value in zip(rows, values, strict=True))]
        for i in range(n)
    ]
    for i in range(n):
        pivot = max(range(i, n), key=lambda row: abs(table[row][i]))
        if abs(table[pivot][i]) < 1e-12:
            return None
        table[i], table[pivot] = table[pivot], table[i]
        for row in range(n):
            if row != i:
                times = table[row][i] / table[i][i]
                table[row] = [a - times * b for a, b in zip(table[row], table[i], strict=True)]
    return [table[i][n] / table[i][i] for i in range(n)]
