"""Thermometer: offset, lag and noise, and the two ways in which a one-wire part fails.

Such a part gives 85.00 deg C when it has lost power and has not measured since (data sheets of the kind, from
memory); without its wire there is no reading at all.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from sim.noise import gaussian_at, seed_for

POWER_UP_C = 85.0


@dataclass(frozen=True, slots=True)
class ThermometerCondition:
    """What ails a thermometer: an offset, a fixed value, or no answer."""

    name: str
    offset_c: float = 0.0
    fixed_c: float | None = None
    answers: bool = True


HEALTHY = ThermometerCondition("healthy")
POWER_UP = ThermometerCondition("power-up value", fixed_c=POWER_UP_C)
CUT = ThermometerCondition("cut", answers=False)
ASTRAY = ThermometerCondition("astray", offset_c=4.0)


class Thermometer:
    """Thermometer in whatever surrounds it; `condition` may be replaced at any time."""

    def __init__(
        self,
        name: str,
        start_c: float,
        offset_c: float = 0.0,
        noise_c: float = 0.02,
        lag_s: float = 15.0,
        seed: int = 0,
    ) -> None:
        self.condition = HEALTHY
        self.offset_c = offset_c
        self.noise_c = noise_c
        self.lag_s = lag_s
        self._shown_c = start_c
        self._seed = seed_for(seed, f"thermometer {name}")

    def advance(self, dt_s: float, true_c: float) -> None:
        """Let the thermometer follow for `dt_s`, exactly if its surroundings are steady."""
        if dt_s > 0.0:
            self._shown_c += (true_c - self._shown_c) * -math.expm1(-dt_s / self.lag_s)

    def read_c(self, now_s: float) -> float | None:
        """Return the reading, deg C; None when the part does not answer."""
        condition = self.condition
        if not condition.answers:
            return None
        if condition.fixed_c is not None:
            return condition.fixed_c
        noise_c = self.noise_c * gaussian_at(self._seed, now_s)
        return self._shown_c + self.offset_c + condition.offset_c + noise_c
