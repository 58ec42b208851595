"""Flow meter at the valve: a rotor that gives pulses, and needs some flow to turn (common practice)."""

from __future__ import annotations

from dataclasses import dataclass

from sim.true_instruments import TrueFlowMeter


@dataclass(frozen=True, slots=True)
class FlowMeterCondition:
    """What ails a flow meter: the share of the true flow that it counts; air makes that more than 1.

    `runs_on_l_min` is what it counts though nothing flows: a wire that picks up the motors' pulses.
    """

    name: str
    counts_share: float = 1.0
    runs_on_l_min: float = 0.0


HEALTHY = FlowMeterCondition("healthy")
STUCK = FlowMeterCondition("stuck", counts_share=0.0)
RUNS_ON = FlowMeterCondition("runs on", runs_on_l_min=3.0)


class FlowMeter:
    """Pulse meter: counts what passes, with its own error; `condition` may be replaced at any time."""

    def __init__(self, pulses_per_l: float, error_share: float, true: TrueFlowMeter) -> None:
        self.pulses_per_l = pulses_per_l
        self.error_share = error_share
        self.true = true
        self.condition = HEALTHY
        self._counted_ml = 0.0

    def passed(self, ml: float, dt_s: float) -> None:
        """Let liquid pass in `dt_s`; too little of it passes the rotor by."""
        if ml * 0.06 < self.true.least_l_min * dt_s:
            return
        self._counted_ml += ml * (1.0 + self.error_share) * self.condition.counts_share

    def advance(self, dt_s: float) -> None:
        """Let time pass in which pulses may come from nowhere."""
        self._counted_ml += self.condition.runs_on_l_min / 60.0 * dt_s * 1e3

    @property
    def pulses(self) -> int:
        """Whole pulses since the start."""
        return int(self._counted_ml * 1e-3 * self.pulses_per_l + 1e-9)
