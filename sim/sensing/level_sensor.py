"""Level sensor of the tank: from water and foam to a height. Noise and slosh are assumed.

A sensor that times an echo takes the speed of sound for that of air at the temperature it believes in;
c = sqrt(gamma R T / M) of an ideal gas, so a distance is off by the square root of the ratio of temperatures.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from sim.matter.physical_constants import KELVIN
from sim.noise import gaussian_at, seed_for, uniform_at
from sim.sensing.disturbance import QUIET, Disturbance
from sim.true_instruments import TrueLevel

SLOSH_PERIOD_S = 0.9
AIR_K = 20.0 + KELVIN


@dataclass(frozen=True, slots=True)
class LevelCondition:
    """What ails a level sensor: stuck where it is, shifted, or seeing drops on itself now and then.

    `spike_mm` is what it reads instead of the water for `spike_share` of the time.
    """

    name: str
    stuck: bool = False
    offset_mm: float = 0.0
    scale: float = 1.0
    spike_share: float = 0.0
    spike_mm: float = 0.0


HEALTHY = LevelCondition("healthy")
STUCK = LevelCondition("stuck", stuck=True)
CONDENSATION = LevelCondition("condensation", spike_share=0.1, spike_mm=800.0)
SHIFTED = LevelCondition("shifted", offset_mm=60.0)
CLOGGED = LevelCondition("clogged", scale=0.85)


class LevelSensor:
    """Sensor above the tank. `near` says what runs nearby; `condition` may be replaced at any time."""

    def __init__(self, true: TrueLevel, seed: int = 0) -> None:
        self.true = true
        self.near: Disturbance = QUIET
        self._level_mm = self._foam_mm = self._held_mm = 0.0
        self._condition = HEALTHY
        self._seed = seed_for(seed, "level")

    @property
    def condition(self) -> LevelCondition:
        """What the sensor suffers from now; one that sticks holds what it saw last."""
        return self._condition

    @condition.setter
    def condition(self, condition: LevelCondition) -> None:
        self._held_mm = self._seen_mm()
        self._condition = condition

    def sees(self, level_mm: float, foam_mm: float = 0.0) -> None:
        """Take notice of the water and of the foam on it, mm."""
        self._level_mm, self._foam_mm = level_mm, foam_mm

    def read_mm(self, now_s: float) -> float:
        """Return the reading, mm; never below 0."""
        condition = self._condition
        if condition.stuck:
            return max(self._held_mm, 0.0)
        noise = gaussian_at(self._seed, now_s)
        if condition.spike_share > 0.0 and uniform_at(self._seed ^ 2, now_s) < condition.spike_share:
            return max(condition.spike_mm + noise, 0.0)
        reading = self._seen_mm() * condition.scale + condition.offset_mm + self.true.level_noise_mm * noise
        if self.near.moves_water and self._level_mm > self.true.dead_mm:
            wave = math.sin(2.0 * math.pi * now_s / SLOSH_PERIOD_S)
            reading += self.true.slosh_mm * 0.5 * (wave + gaussian_at(self._seed ^ 1, now_s))
        return max(reading, 0.0)

    def _seen_mm(self) -> float:
        """Return what the sensor makes of water and foam, without noise."""
        true = self.true
        top_mm = self._level_mm + true.foam_share * self._foam_mm
        if top_mm < true.dead_mm:
            top_mm = 0.0
        if true.mount_mm > 0.0:
            stretch = math.sqrt((AIR_K + true.air_error_c) / AIR_K)
            top_mm = true.mount_mm - (true.mount_mm - top_mm) * stretch
        return true.level_offset_mm + true.level_scale * top_mm
