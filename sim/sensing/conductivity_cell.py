"""Conductivity cell with its own thermometer: from the water around it to a reading at 25 deg C.

The cell sees k / (1 + k / k_half): electrode polarisation is a resistance in series with the water (assumed
form). Gas bubbles leave (1 - g) / (1 + g/2) of the conductivity (Maxwell's mixture of insulating spheres,
from memory). The front end divides by 1 + per_k (T - 25), T as its thermometer shows it (2 %/K: common meter
practice).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from sim.noise import gaussian_at, seed_for
from sim.sensing.disturbance import QUIET, Disturbance
from sim.true_instruments import TrueCell

BUBBLE_SHARE = 0.03
"""Gas in the water around the cell while the air pump runs (assumed)."""


@dataclass(frozen=True, slots=True)
class CellCondition:
    """What ails a cell: the share of the conductivity that still shows, or the reading it is stuck at."""

    name: str
    shows_share: float = 1.0
    noise_factor: float = 1.0
    stuck_us_cm: float | None = None


HEALTHY = CellCondition("healthy")
FOULED = CellCondition("fouled", shows_share=0.8)
BUBBLE_CAUGHT = CellCondition("bubble caught", shows_share=0.5, noise_factor=5.0)
CUT = CellCondition("cut", stuck_us_cm=0.0)
SHORTED = CellCondition("shorted", stuck_us_cm=100_000.0)


class ConductivityCell:
    """Cell and front end. `near` says what runs nearby; `condition` may be replaced at any time."""

    def __init__(self, true: TrueCell, seed: int = 0, start_c: float = 20.0) -> None:
        self.true = true
        self.condition = HEALTHY
        self.near: Disturbance = QUIET
        self._us_cm = 0.0
        self._shown_c = start_c
        self._seed = seed_for(seed, "conductivity")

    def advance(self, dt_s: float, us_cm: float, temperature_c: float) -> None:
        """Let the cell's thermometer follow for `dt_s`; `us_cm` at `temperature_c`, 0 when dry."""
        self._us_cm = us_cm
        if dt_s > 0.0:
            self._shown_c += (temperature_c - self._shown_c) * -math.expm1(-dt_s / self.true.cell_lag_s)

    def read_us_cm(self, now_s: float) -> float:
        """Return the reading at 25 deg C, uS/cm."""
        condition, true = self.condition, self.true
        if condition.stuck_us_cm is not None:
            return condition.stuck_us_cm
        seen = self._us_cm * condition.shows_share
        if self.near.air:
            seen *= (1.0 - BUBBLE_SHARE) / (1.0 + 0.5 * BUBBLE_SHARE)
        seen *= (1.0 + true.cell_error) / (1.0 + seen / true.polarised_at_us_cm)
        noise = true.cell_noise_share * condition.noise_factor * gaussian_at(self._seed, now_s)
        shown_c = self._shown_c + true.cell_offset_c
        return max(seen * (1.0 + noise) / (1.0 + true.per_k * (shown_c - 25.0)), 0.0)
