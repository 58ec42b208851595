"""What a calibration in buffers says about an electrode: good, or what to do with it; slips by their name.

The line itself is `electrode_fit.py`. Limits are trade practice, no binding standard: offset within 30 mV and
the slope rejected below 85 % or above 105 % (three instrument makers, second hand), slope good from 95 % (one
maker, from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import Enum
from itertools import combinations, pairwise

from controller.measure.buffers import counterpart
from controller.measure.electrode import nernst_slope_mv, ph_from_mv
from controller.measure.electrode_fit import BufferReading, Line, fit_line
from controller.measure.response import HEALTHY_T95_S, SLOW_T95_S
from controller.settings.values import PhProbe

GOOD_OFFSET_MV = 30.0
WORN_OUT_OFFSET_MV = 60.0
"""Beyond this a fresh filling does not help (assumed)."""
GOOD_SLOPE = (0.95, 1.05)
LEAST_SLOPE = 0.85
LINE_PH = 0.05
"""A third buffer further off the line than this is not the liquid on its label (assumed: twice the doubt of a
technical bottle and of the line between two others)."""
NO_CHANGE = 0.1
"""Below this share of the expected change between two buffers no electrode answers (assumed)."""
SAME_PH = 0.4
TABLE_SLIP_PH = 0.03
"""So near the last calibration, or the line, comes one read from the right table (assumed)."""


class Verdict(Enum):
    """What to do with the electrode. `REPEAT`: the calibration itself went wrong."""

    GOOD = "good"
    CLEAN = "clean"
    REFILL = "refill"
    REPLACE = "replace"
    REPEAT = "repeat"


REMEDY = {
    Verdict.GOOD: "nothing: it may go back into the tank",
    Verdict.CLEAN: "clean it as its maker says, soak it in storage liquid for an hour, then calibrate again",
    Verdict.REFILL: "renew its filling and clear the junction, then repeat (replace a gel-filled one)",
    Verdict.REPLACE: "replace the electrode, and calibrate the new one",
    Verdict.REPEAT: "calibrate again with what is said above put right",
}


@dataclass(frozen=True, slots=True)
class ElectrodeCalibration:
    """What was found. `passed`: it may be worked with. `line` is None where readings give none.

    `said` are the reasons, the worst first.
    """

    readings: tuple[BufferReading, ...]
    line: Line | None
    verdict: Verdict
    passed: bool
    said: tuple[str, ...]

    @property
    def remedy(self) -> str:
        """Say in one plain line what to do."""
        return REMEDY[self.verdict]


@dataclass(frozen=True, slots=True)
class _Finding:
    verdict: Verdict
    stops: bool
    text: str


_WORST = (Verdict.GOOD, Verdict.CLEAN, Verdict.REFILL, Verdict.REPLACE, Verdict.REPEAT)


def judge(readings: Sequence[BufferReading], before: PhProbe) -> ElectrodeCalibration:
    """Judge readings in two or three buffers; `before` is what the last calibration found.

    Its isopotential pH is kept. Raises ValueError below two readings, BufferFault outside a table.
    """
    if len(readings) < 2:
        raise ValueError("a calibration needs two buffers")
    seen = tuple(sorted(readings, key=lambda one: one.ph))
    slip = _same(seen, before)
    if slip is not None:
        return ElectrodeCalibration(seen, None, slip.verdict, False, (slip.text,))
    line = fit_line(seen, before.isopotential_ph)
    slips = [one for one in (_swapped(line), _wrong_table(seen, line, before)) if one is not None]
    if not slips and len(seen) > 2:
        slips = _off_the_line(seen, line)
    found = slips or [*_offset(line), *_slope(line), *_response(seen)]
    if not found:
        return ElectrodeCalibration(seen, line, Verdict.GOOD, True, ())
    found.sort(key=lambda one: (-_WORST.index(one.verdict), not one.stops))
    passed = not any(one.stops for one in found)
    return ElectrodeCalibration(seen, line, found[0].verdict, passed, tuple(one.text for one in found))


def as_probe(found: ElectrodeCalibration, before: PhProbe) -> PhProbe:
    """Give the probe as it would be believed from now on; its date is set by who writes it down."""
    if found.line is None:
        raise ValueError("there is no line to believe")
    return replace(before, offset_mv=found.line.offset_mv, slope_share=found.line.slope_share)


def _same(seen: Sequence[BufferReading], before: PhProbe) -> _Finding | None:
    """Name two buffers between which nothing, or next to nothing, changed."""
    if any(one.buffer == other.buffer for one, other in pairwise(seen)):
        label = next(a.buffer.label for a, b in pairwise(seen) if a.buffer == b.buffer)
        text = f"buffer {label} was given twice: two different buffers are needed"
        return _Finding(Verdict.REPEAT, True, text)
    for one, other in pairwise(seen):
        wanted_mv = nernst_slope_mv(one.temperature_c) * (other.ph - one.ph)
        if abs(one.mv - other.mv) >= NO_CHANGE * wanted_mv:
            continue
        pair = f"{one.buffer.label} and {other.buffer.label}"
        labels = f"between {pair} it changed by {one.mv - other.mv:+.1f} mV"
        said = ph_from_mv((one.mv + other.mv) / 2.0, one.temperature_c, before)
        like = [reading for reading in (one, other) if abs(reading.ph - said) < SAME_PH]
        if like and abs(one.mv + other.mv) / 2.0 > GOOD_OFFSET_MV:
            label = like[0].buffer.label
            why = f"both read like {label}: the same bottle twice, or the probe still in its cap"
            return _Finding(Verdict.REPEAT, True, f"{labels}, wanted were {wanted_mv:.0f} mV; {why}")
        if abs(one.mv + other.mv) / 2.0 <= GOOD_OFFSET_MV:
            why = "take its cap off, dry its plug, use two bottles; if that fails replace it (glass broken)"
            return _Finding(Verdict.REPEAT, True, f"{labels}, wanted were {wanted_mv:.0f} mV; {why}")
        why = "the probe is still in its cap, or its cable is broken"
        return _Finding(Verdict.REPEAT, True, f"{labels}, wanted were {wanted_mv:.0f} mV; {why}")
    return None


def _swapped(line: Line) -> _Finding | None:
    if line.slope_share >= 0.0:
        return None
    text = "the signal rises with pH, and a pH electrode's falls: the buffers were swapped"
    return _Finding(Verdict.REPEAT, True, text)


def _wrong_table(seen: Sequence[BufferReading], line: Line, before: PhProbe) -> _Finding | None:
    """Name a bottle of the other series: 7.00 and 6.865 look alike and cost 0.14 pH.

    With three buffers the other table must put all on one line where this one does not; with two it must give
    the last calibration back, where this one gives another electrode.
    """
    others = {one.buffer: counterpart(one.buffer) for one in seen}
    pairs = [(one, other) for one, other in others.items() if other is not None]
    if not pairs:
        return None

    def elsewhere(reading: BufferReading) -> float:
        other = others[reading.buffer]
        return reading.ph if other is None else other.ph_at(reading.temperature_c)

    read_otherwise = fit_line(seen, before.isopotential_ph, elsewhere)
    if len(seen) > 2:
        here, there = _worst(line), _worst(read_otherwise)
    else:
        here, there = _apart(seen, line, before), _apart(seen, read_otherwise, before)
    if here <= LINE_PH or there > TABLE_SLIP_PH:
        return None
    bottle, other = pairs[0]
    text = (
        f"these readings fit the {other.series.value} buffer {other.label} and not the "
        f"{bottle.series.value} {bottle.label}, another liquid "
        f"{abs(other.nominal_ph - bottle.nominal_ph):.2f} pH apart; look at the label; if it is right use a "
        f"third buffer"
    )
    return _Finding(Verdict.REPEAT, True, text)


def _worst(line: Line) -> float:
    return max(abs(left) for left in line.left_ph)


def _apart(seen: Sequence[BufferReading], line: Line, before: PhProbe) -> float:
    """Give how far two calibrations differ at most, in pH, over the buffers read."""
    return max(
        abs(ph_from_mv(line.mv_at(one.ph, one.temperature_c), one.temperature_c, before) - one.ph)
        for one in seen
    )


def _off_the_line(seen: Sequence[BufferReading], line: Line) -> list[_Finding]:
    worst = max(range(len(seen)), key=lambda place: abs(line.left_ph[place]))
    if abs(line.left_ph[worst]) <= LINE_PH:
        return []
    off = ", ".join(
        f"{one.buffer.label} by {left:+.2f}" for one, left in zip(seen, line.left_ph, strict=True)
    )
    exchanged = _exchanged(seen, line)
    if exchanged is not None:
        return [exchanged]
    text = f"the buffers do not lie on one line ({off} pH): one is old, diluted or not what its label says"
    return [_Finding(Verdict.REPEAT, True, text)]


def _exchanged(seen: Sequence[BufferReading], line: Line) -> _Finding | None:
    """Name two bottles of three that were swapped: with their readings exchanged all lie on one line."""
    for one, other in combinations(range(len(seen)), 2):
        turned = list(seen)
        turned[one] = replace(seen[one], buffer=seen[other].buffer)
        turned[other] = replace(seen[other], buffer=seen[one].buffer)
        put_right = fit_line(turned, line.isopotential_ph)
        if _worst(put_right) <= LINE_PH and LEAST_SLOPE <= put_right.slope_share <= GOOD_SLOPE[1]:
            labels = f"{seen[one].buffer.label} and {seen[other].buffer.label}"
            text = f"buffers {labels} were swapped: exchanged, all lie on one line"
            return _Finding(Verdict.REPEAT, True, text)
    return None


def _offset(line: Line) -> list[_Finding]:
    at_7_mv = line.mv_at(7.0, 25.0)
    if abs(at_7_mv) <= GOOD_OFFSET_MV:
        return []
    text = f"it gives {at_7_mv:+.0f} mV at pH 7, allowed are {GOOD_OFFSET_MV:g}: reference spent or dirty"
    worn_out = abs(at_7_mv) > WORN_OUT_OFFSET_MV
    return [_Finding(Verdict.REPLACE if worn_out else Verdict.REFILL, True, text)]


def _slope(line: Line) -> list[_Finding]:
    share = line.slope_share
    low, high = GOOD_SLOPE
    if low <= share <= high:
        return []
    text = f"its slope is {100 * share:.1f} % of the theoretical one, "
    if share > high:
        why = f"above {100 * high:.0f} %: no electrode does that, so a buffer or the temperature is wrong"
        return [_Finding(Verdict.REPEAT, True, text + why)]
    if share < LEAST_SLOPE:
        return [_Finding(Verdict.REPLACE, True, f"{text}below {100 * LEAST_SLOPE:.0f} %: it is worn out")]
    return [_Finding(Verdict.CLEAN, False, f"{text}below {100 * low:.0f} %: it is dirty or ageing")]


def _response(seen: Sequence[BufferReading]) -> list[_Finding]:
    known = [one.t95_s for one in seen if one.t95_s is not None]
    if not known or max(known) <= HEALTHY_T95_S:
        return []
    text = (
        f"it took {max(known):.0f} s to 95 % of a step, healthy is up to {HEALTHY_T95_S:g} s: a film or dirt"
    )
    return [_Finding(Verdict.CLEAN, max(known) > SLOW_T95_S, text)]
