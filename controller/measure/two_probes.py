"""What one or two pH probes say together: the pH that is worked with, and why it may not be judged by.

Where two are fitted, both must be sound and agree; then their mean is worked with. Whether a reading rests is
`steadiness.py`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from controller.measure.electrode import ProbeVerdict, mv_from_ph
from controller.settings.values import PhProbe

# Two sound probes differ by what their calibrations and junctions leave. For each 0.02 pH of the buffers,
# 0.03 of the fit, 0.03 of the junction in a feed instead of a buffer and 0.02 of drift since (standard
# uncertainties, assumed) come to 0.051, for a difference to 0.072. Twice that (k = 2, GUM 6.3.3).
AGREE_PH = 0.15

# Two signals that come from one probe differ by rounding and noise only, and two probes by what their
# calibrations say. That tells them apart where this is 5 mV (0.085 pH) or more; beyond 0.15 pH
# `AGREE_PH` does. The price: a pair of which one has drifted by just what sets the two apart is doubted
# too. With 4.2 mV for a sound difference (the 0.072 pH above) that is one in fifty pairs at 5 mV, and fewer
# further apart.
CLEAR_MV = 5.0
APART_LOOKS = 40
ROUNDING_MV = 0.1
SURE = 3.0

ONE, FIRST, SECOND = "the pH probe", "the first pH probe", "the second pH probe"


# What to do where a signal cannot be a reading at all.
LOST: Mapping[ProbeVerdict, str] = MappingProxyType(
    {
        ProbeVerdict.NO_SIGNAL: "mend its cable or plug (or its module)",
        ProbeVerdict.OPEN_INPUT: "mend its cable or plug",
        ProbeVerdict.OUT_OF_RANGE: "look whether it hangs in the tank, then at its cable and plug",
        ProbeVerdict.TEMPERATURE_OUT_OF_RANGE: "mend the tank thermometer",
    }
)


@dataclass(frozen=True, slots=True)
class ProbeSeen:
    """One probe as it is seen now. `ph` is None when its signal cannot be a reading at all."""

    name: str
    ph: float | None
    verdict: ProbeVerdict

    def says(self) -> str:
        """Word what it says, with what is wrong with it and the one thing to do."""
        if self.ph is None:
            return f"{self.name} gives no plausible reading ({self.verdict.value}): {LOST[self.verdict]}"
        if self.verdict is ProbeVerdict.NEAR_ZERO_GLASS_SUSPECT:
            seen = f"{self.name}'s signal is near zero and has never moved (wet plug or broken glass)"
            return f"{seen}: dry its plug, and replace the probe if that does not help"
        if self.verdict is ProbeVerdict.DEAD:
            seen = f"{self.name}'s signal stands at pH {self.ph:.2f} and does not move at all"
            return f"{seen}: switch its module off and on"
        return f"{self.name} says {self.ph:.2f}"


@dataclass(frozen=True, slots=True)
class Together:
    """What is worked with. `why` says why it proves nothing; empty when it does."""

    ph: float | None
    why: str

    @property
    def proven(self) -> bool:
        """Say whether a tank may be judged by it."""
        return self.ph is not None and not self.why


def together(seen: Sequence[ProbeSeen], one: str = "") -> Together:
    """Take one or two probes together: the mean of what they say, and the first reason to doubt it.

    `one` is what `one_signal` found of them.
    """
    readable = [probe.ph for probe in seen if probe.ph is not None]
    ph = math.fsum(readable) / len(readable) if readable else None
    if not all(probe.verdict.proven for probe in seen):
        bad_first = sorted(seen, key=lambda probe: probe.verdict.proven)
        return Together(ph, ", ".join(probe.says() for probe in bad_first))
    said = [(probe.name, ph) for probe, ph in zip(seen, readable, strict=True)]
    return Together(ph, one or disagreement(said))


def apart_mv(ph: float, tank_c: float, first: PhProbe, second: PhProbe) -> float:
    """Give by how much the first signal stands above the second, mV, where both hang in this pH."""
    return mv_from_ph(ph, tank_c, first) - mv_from_ph(ph, tank_c, second)


def one_signal(seen_mv: Sequence[float], wanted_mv: float) -> str:
    """Say that two signals come from one probe; empty when they do not, or when it cannot be told.

    `seen_mv` is how far the first signal stood above the second at the latest looks, `wanted_mv` how far it
    should by the calibrations. Told when their mean is zero within rounding and `SURE` times its standard
    uncertainty (GUM 4.2.3), and that is far from `wanted_mv`. Limits: below `APART_LOOKS` looks, with signals
    too rough, or with calibrations less than `CLEAR_MV` apart, nothing is said. Two modules on one probe are
    told only where their zeros are the same.
    """
    n = len(seen_mv)
    if n < APART_LOOKS or abs(wanted_mv) < CLEAR_MV:
        return ""
    mean_mv = math.fsum(seen_mv) / n
    scatter_mv = math.sqrt(math.fsum((mv - mean_mv) ** 2 for mv in seen_mv) / (n - 1))
    doubt_mv = ROUNDING_MV + SURE * scatter_mv / math.sqrt(n)
    if abs(mean_mv) > doubt_mv or doubt_mv > CLEAR_MV / 4.0:
        return ""
    return (
        "both signals are one: the switch before the converter is stuck, or both plugs hang on one probe "
        f"(they are {abs(mean_mv):.1f} mV apart, by their calibrations {abs(wanted_mv):.1f}): lift one probe "
        "out and see whether one signal stays"
    )


def disagreement(said: Sequence[tuple[str, float]]) -> str:
    """Say how two probes differ; empty when they agree, or when there is only one."""
    values = [ph for _, ph in said]
    if not values or max(values) - min(values) <= AGREE_PH:
        return ""
    words = ", ".join(f"{name} says {ph:.2f}" for name, ph in said)
    return (
        f"{words}: they differ by more than {AGREE_PH:g}; dry both plugs, put both probes into one buffer, "
        "and clean and calibrate the one that is off"
    )
