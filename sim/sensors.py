"""The plain sensors: level, conductivity, temperature. Each adds its own error and noise to the truth."""

from __future__ import annotations

import math

from sim.noise import gaussian_at, seed_for

SLOSH_PERIOD_S = 0.9


class LevelSensor:
    """Level sensor above the tank: offset, scale, noise, and slosh while something moves the water."""

    __slots__ = ("_seed", "noise_mm", "offset_mm", "scale", "slosh_mm")

    def __init__(
        self,
        offset_mm: float = 0.0,
        scale: float = 1.0,
        noise_mm: float = 0.3,
        slosh_mm: float = 2.0,
        seed: int = 0,
    ) -> None:
        self.offset_mm = offset_mm
        self.scale = scale
        self.noise_mm = noise_mm
        self.slosh_mm = slosh_mm
        self._seed = seed_for(seed, "level")

    def read_mm(self, now_s: float, level_mm: float, moving: bool) -> float:
        """Return the reading, mm; never below 0."""
        reading = self.offset_mm + self.scale * level_mm + self.noise_mm * gaussian_at(self._seed, now_s)
        if moving:
            wave = math.sin(2.0 * math.pi * now_s / SLOSH_PERIOD_S)
            reading += self.slosh_mm * 0.5 * (wave + gaussian_at(self._seed ^ 1, now_s))
        return max(reading, 0.0)


class ConductivityProbe:
    """Conductivity cell whose front end refers its reading to 25 deg C with a fixed coefficient."""

    __slots__ = ("_seed", "cell_error", "noise_share", "per_k")

    def __init__(
        self, cell_error: float = 0.0, noise_share: float = 0.002, per_k: float = 0.02, seed: int = 0
    ) -> None:
        self.cell_error = cell_error
        self.noise_share = noise_share
        self.per_k = per_k
        self._seed = seed_for(seed, "conductivity")

    def read_us_cm(self, now_s: float, true_us_cm: float, temperature_c: float) -> float:
        """Return the reading at 25 deg C, uS/cm, from the conductivity at `temperature_c`."""
        at_25 = true_us_cm / (1.0 + self.per_k * (temperature_c - 25.0))
        return at_25 * (1.0 + self.cell_error) * (1.0 + self.noise_share * gaussian_at(self._seed, now_s))


class Thermometer:
    """Thermometer with an offset, a lag and noise."""

    __slots__ = ("_seed", "_shown_c", "lag_s", "noise_c", "offset_c")

    def __init__(
        self,
        name: str,
        start_c: float,
        offset_c: float = 0.0,
        noise_c: float = 0.02,
        lag_s: float = 15.0,
        seed: int = 0,
    ) -> None:
        self.offset_c = offset_c
        self.noise_c = noise_c
        self.lag_s = lag_s
        self._shown_c = start_c
        self._seed = seed_for(seed, f"thermometer {name}")

    def advance(self, dt_s: float, true_c: float) -> None:
        """Let the thermometer follow for `dt_s`."""
        self._shown_c += (true_c - self._shown_c) * -math.expm1(-dt_s / self.lag_s)

    def read_c(self, now_s: float) -> float:
        """Return the reading, deg C."""
        return self._shown_c + self.offset_c + self.noise_c * gaussian_at(self._seed, now_s)
