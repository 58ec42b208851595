"""Mix: stir for the computed time; the next bottle is agitated at the end of it."""

from __future__ import annotations

from controller.plan.steps import Mix
from controller.run.phases.phase import PlainPhase, Turn, View
from controller.run.request import Request

LOOK_S = 5.0


class MixPhase(PlainPhase):
    """Stir, with air where allowed; switch the next agitator on in time."""

    def __init__(self, step: Mix) -> None:
        self._step = step
        self._from_s = 0.0

    def resume(self, view: View) -> None:
        """Begin again: what was half mixed has come to rest."""
        self._from_s = view.elapsed_s

    def scan(self, view: View) -> Turn:
        """Ask for stir until the time has passed."""
        step = self._step
        left_s = self._from_s + step.mix_s - view.elapsed_s
        agitate = step.next_agitator is not None and left_s <= step.agitate_s
        agitators = frozenset({step.next_agitator}) if agitate and step.next_agitator else frozenset()
        request = Request(stir=True, air=step.air, agitators=agitators)
        until_agitate_s = left_s - step.agitate_s if step.next_agitator and not agitate else left_s
        wake_s = view.now_s + min(LOOK_S, max(0.05, until_agitate_s))
        return Turn(request, wake_s=wake_s, done=left_s <= 1e-6)
