"""Agitate: keep a bottle's agitator on until it has run long enough without a break."""

from __future__ import annotations

from controller.plan.steps import Agitate
from controller.run.phases.phase import PlainPhase, Turn, View
from controller.run.request import Request


class AgitatePhase(PlainPhase):
    """Give the bottle what the mix before has not given it already."""

    def __init__(self, step: Agitate) -> None:
        self._step = step

    def scan(self, view: View) -> Turn:
        """Ask for the agitator, and for the stir that the dose will need."""
        request = Request(stir=True, agitators=frozenset({self._step.agitator}))
        since_s = view.memory.agitating_since_s.get(self._step.agitator)
        had_s = 0.0 if since_s is None else view.now_s - since_s
        missing_s = self._step.agitate_s - had_s
        return Turn(request, wake_s=view.now_s + max(0.05, min(missing_s, 5.0)), done=missing_s <= 1e-6)
