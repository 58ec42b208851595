"""Conductivity: the cell factor from a potassium chloride standard, and the scales that people read.

Everything is stored in µS/cm at 25 °C. The front end compensates the temperature; nothing here does it again:
double compensation costs 20 % at 10 K.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import Enum
from itertools import pairwise
from types import MappingProxyType

REFERENCE_C = 25.0
EDGE_K = 0.5

FRONT_END_PER_K = 0.020
"""What the front end takes off for each kelvin above 25 °C (common meter practice; 1.9 to 2.2 %/K)."""

COVERAGE = 2.0

GOOD_FACTOR = (0.8, 1.25)
POSSIBLE_FACTOR = (0.5, 2.0)
"""A factor beyond the first is a fouled cell, beyond the second no calibration at all (assumed)."""
AGREE_SHARE = 0.02
"""Two standards must give the same factor within this (assumed: both bottles and the cell's own rest)."""
# How many times too little is shown where the readings are in another unit, and how far a cell in use may
# be off that (assumed); 1 ppm is 2 µS/cm on the 500 scale and 1.43 on the 700 scale.
_UNITS = (
    (2.0, 0.10, "ppm on the 500 scale"),
    (1000.0 / 700.0, 0.10, "ppm on the 700 scale"),
    (1000.0, 0.25, "mS/cm"),
    (0.001, 0.25, "nS/cm"),
)
TEN_FOLD = 0.3
"""So near a power of ten (decimal logarithm) it is the ten-fold standard (assumed)."""
BOTTLE_SHARE = 0.005
"""Standard uncertainty of a bottle: ±1 % on its label, rectangular (common practice, no source)."""


class Standard(Enum):
    """A bottle of potassium chloride solution: molal ones by composition, molar ones by the printed number.

    0.01 mol/kg reads 1408.2 and "1413" 1413 µS/cm at 25 °C: 0.3 % apart, both right, for different bottles.
    """

    MOLAL_001 = "0.01 mol/kg"
    MOLAL_01 = "0.1 mol/kg"
    PRINTED_1413 = "1413"
    PRINTED_12880 = "12.88"


# µS/cm by °C. Molal ones: CRC Handbook and NIST (Pratt 2001), by a transcription of the table; molar ones: a
# meter's manual (second hand), "1413" at 15 and 30 °C by the molal one's share of 25 °C (assumed).
TABLES: Mapping[Standard, tuple[tuple[float, float], ...]] = MappingProxyType(
    {
        Standard.MOLAL_001: ((15.0, 1141.45), (20.0, 1273.03), (25.0, 1408.23), (30.0, 1546.63)),
        Standard.MOLAL_01: ((20.0, 11615.9), (25.0, 12824.6)),
        Standard.PRINTED_1413: ((15.0, 1145.3), (20.0, 1278.0), (25.0, 1413.0), (30.0, 1551.9)),
        Standard.PRINTED_12880: ((20.0, 11670.0), (25.0, 12880.0)),
    }
)


class StandardFault(ValueError):
    """A bottle that is not known, or not at this temperature; str gives one line with the remedy."""


def standard_named(name: str) -> Standard:
    """Find a standard by what is on its bottle; StandardFault when there is none of that name."""
    wanted = name.strip().lower().replace(" ", "")
    for standard in Standard:
        if wanted in (standard.value.replace(" ", ""), standard.value.removesuffix(" mol/kg")):
            return standard
    if wanted in ("12880", "12.88ms/cm"):
        return Standard.PRINTED_12880
    known = ", ".join(f'"{standard.value}"' for standard in Standard)
    raise StandardFault(f'"{name}" is no standard that is known here; use one of {known}')


def standard_us_cm(standard: Standard, temperature_c: float) -> float:
    """Give a standard's conductivity at its temperature, µS/cm, by straight lines.

    Half a kelvin beyond the table the last line goes on; further out there is no value (StandardFault).
    """
    table = TABLES[standard]
    low_c, high_c = table[0][0], table[-1][0]
    if not low_c - EDGE_K <= temperature_c <= high_c + EDGE_K:
        raise StandardFault(
            f"standard {standard.value}: {temperature_c:.1f} °C is outside its table, "
            f"{low_c:g} to {high_c:g} °C; bring the bottle to room temperature"
        )
    lines = list(pairwise(table))
    (below_c, below), (above_c, above) = next(
        (line for line in lines if temperature_c <= line[1][0]), lines[-1]
    )
    return below + (above - below) * (temperature_c - below_c) / (above_c - below_c)


def shown_at_reference(us_cm: float, temperature_c: float, per_k: float = FRONT_END_PER_K) -> float:
    """Give what a front end without error shows of a conductivity: k / (1 + per_k (T - 25))."""
    return us_cm / (1.0 + per_k * (temperature_c - REFERENCE_C))


def as_ppm(us_cm: float, scale: int) -> float:
    """Give a conductivity on the 500 or 700 scale: so many ppm for each mS/cm. Display only (ValueError).

    Trade convention (several meter manuals, second hand); the true factor depends on salt and strength.
    """
    if scale not in (500, 700):
        raise ValueError(f"there is a 500 and a 700 scale, not {scale}")
    return us_cm * scale / 1000.0


@dataclass(frozen=True, slots=True)
class StandardReading:
    """The cell at rest in one standard: what the board showed at 25 °C, its doubt, its temperature."""

    standard: Standard
    shown_us_cm: float
    temperature_c: float
    doubt_us_cm: float = 0.0

    @property
    def factor(self) -> float:
        """Give how many times the true value is what the board shows (StandardFault outside the table).

        The standard is taken at its real temperature and compensated as the front end does: its 2 %/K is not
        quite that of potassium chloride (1.9 to 2.0), which is no error of the cell.
        """
        true_us_cm = standard_us_cm(self.standard, self.temperature_c)
        return shown_at_reference(true_us_cm, self.temperature_c) / self.shown_us_cm


@dataclass(frozen=True, slots=True)
class CellCalibration:
    """What was found. `uncertainty` is that of the factor (k = 2); `factor` None: the readings give none."""

    readings: tuple[StandardReading, ...]
    factor: float | None
    uncertainty: float
    passed: bool
    verdict: str
    said: tuple[str, ...]
    remedy: str


GOOD, CLEAN, REPEAT, UNIT = "good", "clean", "repeat", "unit"
REMEDY = {
    GOOD: "nothing: it may go back into the tank",
    CLEAN: "clean the cell as its maker says and rinse it well, then calibrate again",
    REPEAT: "rinse with a little of the standard, take a fresh bottle, shake bubbles off, calibrate again",
    UNIT: "give the readings in µS/cm; if the board showed them, put `conductivity_full_us_cm` in rig.toml "
    "right; if both are right, clean the cell; then calibrate again",
}


def judge_cell(readings: Sequence[StandardReading]) -> CellCalibration:
    """Judge readings in one or two standards; their factors are averaged. ValueError without a reading."""
    if not readings:
        raise ValueError("a calibration needs a standard")
    seen = tuple(readings)
    silent = [one for one in seen if not one.shown_us_cm > 0.0]
    if silent:
        text = f"in {silent[0].standard.value} the board shows nothing: cable cut, or the cell is dry"
        return _cell(seen, None, 0.0, REPEAT, (text,), passed=False)
    factors = [one.factor for one in seen]
    factor = math.fsum(factors) / len(factors)
    own = [COVERAGE * factor * math.hypot(BOTTLE_SHARE, one.doubt_us_cm / one.shown_us_cm) for one in seen]
    uncertainty = math.sqrt(math.fsum(one * one for one in own)) / len(own)
    wrong_unit, wrong_bottle = _wrong_unit(seen), _wrong_bottle(seen)
    if wrong_unit is not None:
        return _cell(seen, factor, uncertainty, UNIT, (wrong_unit,), passed=False)
    if wrong_bottle is not None:
        return _cell(seen, factor, uncertainty, REPEAT, (wrong_bottle,), passed=False)
    if not POSSIBLE_FACTOR[0] <= factor <= POSSIBLE_FACTOR[1]:
        text = f"the factor {factor:.3f} is outside {POSSIBLE_FACTOR[0]:g} to {POSSIBLE_FACTOR[1]:g}"
        return _cell(seen, factor, uncertainty, REPEAT, (text,), passed=False)
    if max(factors) - min(factors) > AGREE_SHARE * factor:
        told = ", ".join(f"{one.standard.value} gives {one.factor:.3f}" for one in seen)
        text = f"the standards do not agree: {told}"
        return _cell(seen, factor, uncertainty, REPEAT, (text,), passed=False)
    if not GOOD_FACTOR[0] <= factor <= GOOD_FACTOR[1]:
        text = f"the factor {factor:.3f} is far from 1: dirt on the cell, or a bubble in it"
        return _cell(seen, factor, uncertainty, CLEAN, (text,), passed=True)
    return _cell(seen, factor, uncertainty, GOOD, (), passed=True)


def _wrong_unit(seen: Sequence[StandardReading]) -> str | None:
    """Name the unit that all readings were most likely given in, where that is not µS/cm."""
    for share, tolerance, unit in _UNITS:
        if all(abs(one.factor / share - 1.0) <= tolerance for one in seen):
            return f"{_shown(seen[0], share)}: most likely the readings are {unit} and not µS/cm"
    return None


def _wrong_bottle(seen: Sequence[StandardReading]) -> str | None:
    """Name the ten-fold standard in the place of the other one."""
    for one in seen:
        for share in (10.0, 0.1):
            if abs(math.log10(one.factor / share)) <= TEN_FOLD:
                return f"{_shown(one, share)}: the ten-fold bottle was taken for the other one"
    return None


def _shown(one: StandardReading, share: float) -> str:
    """Say how a standard is shown, and about how far off that is."""
    times = f"{max(share, 1.0 / share):.2f}".removesuffix(".00")
    far = "little" if share > 1.0 else "much"
    return f"{one.standard.value} is shown as {one.shown_us_cm:.4g}, about {times} times too {far}"


def _cell(
    seen: tuple[StandardReading, ...],
    factor: float | None,
    uncertainty: float,
    verdict: str,
    said: tuple[str, ...],
    *,
    passed: bool,
) -> CellCalibration:
    return CellCalibration(seen, factor, uncertainty, passed, verdict, said, REMEDY[verdict])
