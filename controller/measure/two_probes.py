"""What one or two pH probes say together: the pH that is worked with, and why it may not be judged by.

Where two are fitted, both must be sound and agree; then their mean is worked with. Whether a reading rests is
`steadiness.py`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from controller.measure.electrode import ProbeVerdict

# Two sound probes differ by what their calibrations and junctions leave. For each 0.02 pH of the buffers,
# 0.03 of the fit, 0.03 of the junction in a feed instead of a buffer and 0.02 of drift since (standard
# uncertainties, assumed) come to 0.051, for a difference to 0.072. Twice that (k = 2, GUM 6.3.3).
AGREE_PH = 0.15

ONE, FIRST, SECOND = "the pH probe", "the first pH probe", "the second pH probe"


@dataclass(frozen=True, slots=True)
class ProbeSeen:
    """One probe as it is seen now. `ph` is None when its signal cannot be a reading at all."""

    name: str
    ph: float | None
    verdict: ProbeVerdict

    def says(self) -> str:
        """Word what it says, with what is wrong with it."""
        if self.ph is None:
            return f"{self.name} gives no plausible reading ({self.verdict.value})"
        if self.verdict is ProbeVerdict.NEAR_ZERO_GLASS_SUSPECT:
            return f"{self.name}'s signal is near zero and has never moved (broken glass or wet plug?)"
        if self.verdict is ProbeVerdict.DEAD:
            return f"{self.name}'s signal stands at pH {self.ph:.2f} and does not move at all"
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


def together(seen: Sequence[ProbeSeen]) -> Together:
    """Take one or two probes together: the mean of what they say, and the first reason to doubt it."""
    readable = [probe.ph for probe in seen if probe.ph is not None]
    ph = math.fsum(readable) / len(readable) if readable else None
    if not all(probe.verdict.proven for probe in seen):
        bad_first = sorted(seen, key=lambda probe: probe.verdict.proven)
        return Together(ph, ", ".join(probe.says() for probe in bad_first))
    return Together(ph, disagreement([(probe.name, ph) for probe, ph in zip(seen, readable, strict=True)]))


def disagreement(said: Sequence[tuple[str, float]]) -> str:
    """Say how two probes differ; empty when they agree, or when there is only one."""
    values = [ph for _, ph in said]
    if not values or max(values) - min(values) <= AGREE_PH:
        return ""
    words = ", ".join(f"{name} says {ph:.2f}" for name, ph in said)
    return f"{words}: they differ by more than {AGREE_PH:g}"
