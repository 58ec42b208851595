"""An unexplained rise: how much higher the level reads than what flowed in, while air or fill is on.

Two exponential means of level less flow, a quick one and a slow one: waves and sensor noise vanish in both,
a flow meter that is a little off moves both, and foam lifts the quick one first. Common practice, no source.
It measures; interlocks judge.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

QUICK_S = 15.0
SLOW_S = 180.0


@dataclass(slots=True)
class UnexplainedRise:
    """Follow level less flow from scan to scan; `rise_l` is 0 until something is on."""

    rise_l: float = 0.0
    _quick_l: float | None = None
    _slow_l: float = 0.0
    _begun_s: float = 0.0
    _looked_s: float = 0.0

    def look(self, on: bool, level_l: float | None, flow_l: float | None, now_s: float) -> None:
        """Take one scan; what is switched off, or cannot be read, is forgotten."""
        if not on or level_l is None or flow_l is None:
            self._quick_l, self.rise_l = None, 0.0
            return
        excess_l = level_l - flow_l
        if self._quick_l is None:
            self._quick_l = self._slow_l = excess_l
            self._begun_s = self._looked_s = now_s
            return
        passed_s, self._looked_s = now_s - self._looked_s, now_s
        self._quick_l += (excess_l - self._quick_l) * (1 - math.exp(-passed_s / QUICK_S))
        # Until the quick mean has seen enough, one noisy first look would stand in the slow one for minutes.
        settled = now_s - self._begun_s > QUICK_S
        slow_s = SLOW_S if settled else QUICK_S
        self._slow_l += (excess_l - self._slow_l) * (1 - math.exp(-passed_s / slow_s))
        self.rise_l = self._quick_l - self._slow_l
