"""Supply water: valve and pipe. What the water is made of is told by `sim/world.py`."""

from __future__ import annotations

import math

from sim.noise import gaussian, seed_for

PRESSURE_WANDER = 0.02
PRESSURE_WANDER_S = 120.0
"""Other people's taps: flow wanders by 2 % over minutes (assumed)."""
RUN_OUT_TAU_S = 1.5


class Supply:
    """Water main behind a valve. What stands in the pipe past the valve runs out after it has closed."""

    __slots__ = ("_age_s", "_pipe_left_ml", "_seed", "delivered_ml", "flow_l_min", "pipe_ml", "pressure")

    def __init__(self, flow_l_min: float, pipe_ml: float, seed: int = 0) -> None:
        self.flow_l_min = flow_l_min
        self.pipe_ml = pipe_ml
        self.pressure = 1.0
        self.delivered_ml = 0.0
        self._pipe_left_ml = 0.0
        self._age_s = 0.0
        self._seed = seed_for(seed, "supply")

    def advance(self, dt_s: float, valve_open: bool) -> float:
        """Let time pass; return the water that fell into the tank, mL. `pressure` 0 is a lost supply.

        Raises ValueError for a time that is negative or no number.
        """
        if not 0.0 <= dt_s < math.inf:
            raise ValueError(f"cannot let {dt_s} s pass in the supply")
        began_s = self._age_s
        self._age_s += dt_s
        if valve_open:
            flow_ml_s = self.flow_l_min * max(self.pressure, 0.0) / 60.0 * 1e3
            through_ml = flow_ml_s * self._wandered_s(began_s, self._age_s)
            filling_ml = min(through_ml, self.pipe_ml - self._pipe_left_ml)
            self._pipe_left_ml += filling_ml
            self.delivered_ml += through_ml
            return through_ml - filling_ml
        run_out_ml = self._pipe_left_ml * -math.expm1(-dt_s / RUN_OUT_TAU_S)
        self._pipe_left_ml -= run_out_ml
        return run_out_ml

    def _wandered_s(self, from_s: float, to_s: float) -> float:
        """Return the time between two moments, each period of it by as much longer as its flow is larger."""
        total_s, at_s = 0.0, from_s
        while at_s < to_s:
            period = int(at_s / PRESSURE_WANDER_S)
            until_s = min((period + 1) * PRESSURE_WANDER_S, to_s)
            total_s += (until_s - at_s) * (1.0 + PRESSURE_WANDER * gaussian(self._seed, period))
            at_s = until_s
        return total_s
