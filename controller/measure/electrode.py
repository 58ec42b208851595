"""pH electrode: millivolts to pH and back, and whether one signal is plausible.

Whether a reading rests is `steadiness.py`, how two probes are taken together `two_probes.py`, and what a
calibration finds `electrode_calibration.py`.
"""

from __future__ import annotations

import math
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

# A sound electrode in a tank that is stirred and let rest gives not the very same voltage for so long: noise,
# the stir pump's stray voltage and the water's warmth all move it. A module that hung does (assumed).
DEAD_S = 900.0


class ProbeVerdict(Enum):
    """What a signal says about the probe. The value is the word that people read."""

    GOOD = "good"
    NO_SIGNAL = "no signal"
    OPEN_INPUT = "open input"
    NEAR_ZERO_GLASS_SUSPECT = "near zero, glass suspect"
    DEAD = "does not move at all"
    OUT_OF_RANGE = "pH out of range"
    TEMPERATURE_OUT_OF_RANGE = "temperature missing or out of range"

    @property
    def usable(self) -> bool:
        """Say whether the reading may be shown and worked with."""
        return self in (ProbeVerdict.GOOD, ProbeVerdict.NEAR_ZERO_GLASS_SUSPECT, ProbeVerdict.DEAD)

    @property
    def proven(self) -> bool:
        """Say whether the reading may release a tank: a suspect glass or a dead signal never does."""
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
    mv: float | None,
    temperature_c: float | None,
    probe: PhProbe,
    moved_mv: float | None = None,
    same_s: float = 0.0,
) -> ProbeVerdict:
    """Judge whether a signal can come from a sound probe in a tank of feed.

    `moved_mv` is how far the signal has been seen to move tonight: a signal near zero that never moved is
    suspect. None: nobody watched, so the rule cannot be applied. `same_s` is for how long the very same
    signal has been seen. The first broken rule is the verdict.
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
    return ProbeVerdict.DEAD if same_s >= DEAD_S else ProbeVerdict.GOOD
