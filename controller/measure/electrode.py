"""pH electrode: millivolts to pH and back, whether a signal is plausible, whether it is at rest.

Pure of clocks: every sample brings its own time. Seeing to it that stir, air and pumps are off is the
sequence's work; calibrating a probe and judging its slope belong elsewhere.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Sequence
from enum import Enum

from controller.settings.values import PhProbe

# CODATA 2018, exact by the definition of the SI.
GAS_CONSTANT_J_MOL_K = 8.314462618
FARADAY_C_MOL = 96485.33212
ZERO_CELSIUS_K = 273.15

# An electrode between pH 0 and 14 stays within 7 x 62.1 mV (40 °C) and an offset of 30 mV. Beyond that the
# amplifier sees no electrode: cable off or broken, reference dry.
OPEN_INPUT_MV = 500.0

# A cracked glass or a wet connector shorts the signal: it reads zero in any liquid. So does a sound probe
# at pH 7; only a signal that has been seen to move tells them apart (common practice, no source).
SHORTED_MV = 1.0
ALIVE_MV = 3.0

# No tank of feed is outside these (common practice, no source).
PLAUSIBLE_PH = (2.0, 12.0)
PLAUSIBLE_C = (0.0, 50.0)

# Fewer samples in a window, or a longer gap between two, prove nothing about the time between them.
MIN_SAMPLES = 5
MAX_GAP_SHARE = 1.0 / 3.0


class ProbeVerdict(Enum):
    """What a signal says about the probe. The value is the word that people read."""

    GOOD = "good"
    NO_SIGNAL = "no signal"
    OPEN_INPUT = "open input"
    NEAR_ZERO_GLASS_SUSPECT = "near zero, glass suspect"
    OUT_OF_RANGE = "pH out of range"
    TEMPERATURE_OUT_OF_RANGE = "temperature missing or out of range"

    @property
    def usable(self) -> bool:
        """Say whether the reading may be shown and worked with."""
        return self in (ProbeVerdict.GOOD, ProbeVerdict.NEAR_ZERO_GLASS_SUSPECT)

    @property
    def proven(self) -> bool:
        """Say whether the reading may release a tank: a suspect glass never does."""
        return self is ProbeVerdict.GOOD


def nernst_slope_mv(temperature_c: float) -> float:
    """Give the ideal slope RT ln(10)/F in mV per pH."""
    kelvin = temperature_c + ZERO_CELSIUS_K
    return GAS_CONSTANT_J_MOL_K * kelvin * math.log(10.0) / FARADAY_C_MOL * 1000.0


def ph_from_mv(mv: float, temperature_c: float, probe: PhProbe) -> float:
    """Give the pH of a signal: isopotential pH - (mV - offset) / (slope share x Nernst slope).

    `probe.offset_mv` is the signal at the isopotential pH, where temperature changes nothing. The slope is
    compensated; the liquid's own change of pH with temperature is real and stays in.
    """
    slope_mv = probe.slope_share * nernst_slope_mv(temperature_c)
    return probe.isopotential_ph - (mv - probe.offset_mv) / slope_mv


def mv_from_ph(ph: float, temperature_c: float, probe: PhProbe) -> float:
    """Give the signal in mV at a pH: the inverse of `ph_from_mv`."""
    slope_mv = probe.slope_share * nernst_slope_mv(temperature_c)
    return probe.offset_mv - slope_mv * (ph - probe.isopotential_ph)


def probe_verdict(
    mv: float | None, temperature_c: float | None, probe: PhProbe, moved_mv: float | None = None
) -> ProbeVerdict:
    """Judge whether a signal can come from a sound probe in a tank of feed.

    `moved_mv` is how far the signal has been seen to move tonight: a signal near zero that never moved is
    suspect. None: nobody watched, so the rule cannot be applied. The first broken rule is the verdict.
    """
    if mv is None or not math.isfinite(mv):
        return ProbeVerdict.NO_SIGNAL
    if abs(mv) > OPEN_INPUT_MV:
        return ProbeVerdict.OPEN_INPUT
    if temperature_c is None or not PLAUSIBLE_C[0] <= temperature_c <= PLAUSIBLE_C[1]:
        return ProbeVerdict.TEMPERATURE_OUT_OF_RANGE
    if not PLAUSIBLE_PH[0] <= ph_from_mv(mv, temperature_c, probe) <= PLAUSIBLE_PH[1]:
        return ProbeVerdict.OUT_OF_RANGE
    if moved_mv is not None and abs(mv) <= SHORTED_MV and moved_mv < ALIVE_MV:
        return ProbeVerdict.NEAR_ZERO_GLASS_SUSPECT
    return ProbeVerdict.GOOD


def is_stable(samples: Sequence[tuple[float, float]], stable_s: float, stable_ph: float) -> bool:
    """Say whether the latest `stable_s` of (time_s, pH) samples are at rest.

    They must cover the whole window without a gap; the straight line through them (least squares) may
    climb or fall by at most `stable_ph` over the window, and their standard deviation about that line may
    be at most `stable_ph`. Times must not run backwards (ValueError). O(window).
    """
    window = _latest(samples, stable_s)
    if window is None:
        return False
    slope_ph_s, scatter_ph = _line_through(window)
    return abs(slope_ph_s) * stable_s <= stable_ph and scatter_ph <= stable_ph


class Steadiness:
    """A bounded window of samples of one reading. Mutable, and pure of clocks."""

    def __init__(self, stable_s: float, stable_ph: float) -> None:
        if not (stable_s > 0 and stable_ph > 0):
            raise ValueError(f"stable_s and stable_ph must be above 0: {stable_s} s, {stable_ph}")
        self._stable_s = stable_s
        self._stable_ph = stable_ph
        self._samples: deque[tuple[float, float]] = deque()

    def add(self, time_s: float, ph: float) -> None:
        """Take one sample. Times must not run backwards and pH must be finite (ValueError)."""
        if not (math.isfinite(time_s) and math.isfinite(ph)):
            raise ValueError(f"a sample must be finite: {time_s} s, pH {ph}")
        if self._samples and time_s < self._samples[-1][0]:
            raise ValueError(f"samples run backwards: {time_s} s after {self._samples[-1][0]} s")
        self._samples.append((time_s, ph))
        # The sample just before the window stays: it proves that the window is covered from its start.
        while len(self._samples) > 1 and self._samples[1][0] <= time_s - self._stable_s:
            self._samples.popleft()

    def clear(self) -> None:
        """Forget everything: the tank was disturbed, or a reading was missing."""
        self._samples.clear()

    def is_stable(self) -> bool:
        """Say whether the reading has come to rest."""
        return is_stable(self._samples, self._stable_s, self._stable_ph)

    def steady_ph(self) -> float | None:
        """Give the mean over the window once the reading has come to rest, else None."""
        if not self.is_stable():
            return None
        return sum(ph for _, ph in self._samples) / len(self._samples)

    def __len__(self) -> int:
        return len(self._samples)


def _latest(samples: Sequence[tuple[float, float]], stable_s: float) -> list[tuple[float, float]] | None:
    """Cut the latest `stable_s` out of the samples; None when they do not cover it."""
    if not samples:
        return None
    start_s = samples[-1][0] - stable_s
    window: list[tuple[float, float]] = []
    later_s = samples[-1][0]
    for time_s, ph in reversed(samples):
        if time_s > later_s:
            raise ValueError(f"samples run backwards: {later_s} s after {time_s} s")
        if later_s - time_s > stable_s * MAX_GAP_SHARE:
            return None
        window.append((time_s, ph))
        later_s = time_s
        if time_s <= start_s:
            return window if len(window) >= MIN_SAMPLES else None
    return None


def _line_through(window: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """Give the least-squares slope in pH/s and the standard deviation about the line in pH."""
    n = len(window)
    mean_s = sum(t for t, _ in window) / n
    mean_ph = sum(p for _, p in window) / n
    spread = sum((t - mean_s) ** 2 for t, _ in window)
    slope = sum((t - mean_s) * (p - mean_ph) for t, p in window) / spread
    residual = sum((p - mean_ph - slope * (t - mean_s)) ** 2 for t, p in window)
    return slope, math.sqrt(residual / (n - 2))
