"""Settle: keep stir and air off so that foam breaks and the surface calms."""

from __future__ import annotations

from controller.plan.steps import Settle
from controller.run.phases.phase import PlainPhase, Turn, View

LOOK_S = 10.0


class SettlePhase(PlainPhase):
    """Wait; a hold may have stirred the tank by hand, so the wait begins again after one."""

    def __init__(self, step: Settle) -> None:
        self._step = step
        self._from_s = 0.0

    def scan(self, view: View) -> Turn:
        """Ask for nothing until the time has passed."""
        left_s = self._from_s + self._step.settle_s - view.elapsed_s
        return Turn(wake_s=view.now_s + min(LOOK_S, max(0.05, left_s)), done=left_s <= 1e-6)

    def resume(self, view: View) -> None:
        """Begin the wait again."""
        self._from_s = view.elapsed_s
