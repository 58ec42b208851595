"""Rebound: stir for a while so that dissolved CO2 can leave before pH is looked at for the last time."""

from __future__ import annotations

from controller.plan.steps import Rebound
from controller.run.phases.phase import PlainPhase, Turn, View
from controller.run.request import Request

LOOK_S = 10.0


class ReboundPhase(PlainPhase):
    """Stir, with air where the plan allows it."""

    def __init__(self, step: Rebound) -> None:
        self._step = step

    def scan(self, view: View) -> Turn:
        """Ask for stir until the wait is over."""
        left_s = self._step.wait_s - view.elapsed_s
        done = left_s <= 1e-6
        request = Request(stir=True, air=self._step.air)
        return Turn(request, wake_s=view.now_s + min(LOOK_S, max(0.05, left_s)), done=done)
