"""Load cell under a platform: from what stands on it to grams, with creep, drift, vibration and noise.

Creep: a small share of a change of load comes late, as one exponential (usual description of load cells;
sizes assumed). Nothing here knows liquids; what stands on it is `platform.py`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from sim.noise import gaussian_at, seed_for, wander_at
from sim.true_instruments import TrueScales

REFERENCE_C = 20.0
LEAN_WANDER_S = 3.0


@dataclass(frozen=True, slots=True)
class ScaleCondition:
    """What ails a scale: something leans on it, its zero has moved, it is jammed, or it is silent.

    Of what changes while it is in this condition only `passes_share` reaches the cell: a bottle or the
    platform touches the wall, which carries the rest.
    """

    name: str
    leaning_g: float = 0.0
    zero_g: float = 0.0
    passes_share: float = 1.0
    answers: bool = True


HEALTHY = ScaleCondition("healthy")
LEANED_ON = ScaleCondition("leaned on", leaning_g=4000.0)
SHIFTED = ScaleCondition("shifted", zero_g=150.0)
JAMMED = ScaleCondition("jammed", passes_share=0.7)
CUT = ScaleCondition("cut", answers=False)


class Scale:
    """One load cell; `condition` may be replaced at any time and counts from then on."""

    def __init__(self, name: str, true: TrueScales, start_g: float, seed: int = 0) -> None:
        self.true = true
        self.shaken = False
        self._condition = HEALTHY
        self._stood_g = self._jammed_at_g = start_g
        self._load_g = self._crept_g = start_g
        self._air_c = REFERENCE_C
        self._seed = seed_for(seed, f"scale {name}")

    @property
    def condition(self) -> ScaleCondition:
        """What ails the scale now."""
        return self._condition

    @condition.setter
    def condition(self, condition: ScaleCondition) -> None:
        self._condition = condition
        self._jammed_at_g = self._stood_g
        self._load_g = self._stood_g

    def advance(self, dt_s: float, stands_g: float, air_c: float, shaken: bool = False) -> None:
        """Let the cell creep for `dt_s` while `stands_g` stands on it, exactly if that is steady."""
        self._stood_g = stands_g
        self._load_g = self._jammed_at_g + self._condition.passes_share * (stands_g - self._jammed_at_g)
        self._air_c = air_c
        self.shaken = shaken
        if dt_s > 0.0:
            late_s = self.true.creep_minutes * 60.0
            self._crept_g += (self._load_g - self._crept_g) * -math.expm1(-dt_s / late_s)

    def read_g(self, now_s: float) -> float | None:
        """Return the gross weight, g; None when the cell does not answer."""
        condition, true = self.condition, self.true
        if not condition.answers:
            return None
        strained = self._load_g + true.creep_share * (self._crept_g - self._load_g)
        grams = strained * (1.0 + true.span_error)
        grams += condition.zero_g + true.drift_g_k * (self._air_c - REFERENCE_C)
        if condition.leaning_g:
            grams += condition.leaning_g * (1.0 + 0.3 * wander_at(self._seed ^ 1, now_s, LEAN_WANDER_S))
        rough = true.scale_noise_g + (true.vibration_g if self.shaken else 0.0)
        return grams + rough * gaussian_at(self._seed, now_s)
