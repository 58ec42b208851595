"""Keep: hold a released tank ready: permit on, short stirs, a look at pH before each of them.

The permit goes when the tank is too old or pH has left the window; it never comes back within the batch.
"""

from __future__ import annotations

from controller.plan.steps import Keep
from controller.run.phases.phase import PlainPhase, Turn, View
from controller.run.readings import reading_event
from controller.run.request import Request
from controller.run.situation import Cause, Trouble

LOOK_S = 30.0


class KeepPhase(PlainPhase):
    """Alternate stillness and short stirs until the tank is too old."""

    def __init__(self, step: Keep) -> None:
        self._step = step
        self._stir_from_s = step.stir_every_s
        self._looked = False

    def scan(self, view: View) -> Turn:
        """Ask for the permit, and for stir when its time has come."""
        step = self._step
        if view.elapsed_s >= step.max_age_s:
            hours = step.max_age_s / 3600
            return Turn(wake_s=view.now_s, done=True, note=f"permit withdrawn after {hours:g} h")
        into_stir_s = view.elapsed_s - self._stir_from_s
        if into_stir_s < 0:
            return self._turn(view, stir=False, left_s=-into_stir_s)
        if not self._looked:
            self._looked = True
            trouble = self._look(view)
            if trouble is not None:
                return Turn(wake_s=view.now_s, trouble=trouble)
        if into_stir_s < step.stir_s:
            return self._turn(view, stir=True, left_s=step.stir_s - into_stir_s)
        self._stir_from_s += step.stir_every_s
        self._looked = False
        return self._turn(view, stir=False, left_s=self._stir_from_s - view.elapsed_s)

    def resume(self, view: View) -> None:
        """Wait a whole still period before pH is looked at again."""
        self._stir_from_s = view.elapsed_s + self._step.stir_every_s
        self._looked = False

    def _turn(self, view: View, *, stir: bool, left_s: float) -> Turn:
        until_old_s = self._step.max_age_s - view.elapsed_s
        wake_s = view.now_s + max(0.05, min(LOOK_S, left_s, until_old_s))
        return Turn(Request(stir=stir, permit=True), wake_s=wake_s)

    def _look(self, view: View) -> Trouble | None:
        """Read the still tank; tell what is wrong with it."""
        seen = view.readings
        proven = seen.ph is not None and seen.ph_proven
        view.put(reading_event(seen, view.memory.batch, view.number, seen.ph, accepted=proven))
        if seen.ph is None or not proven:
            return Trouble(Cause.PERMIT_WITHDRAWN, "pH can no longer be read")
        plan = view.memory.plan
        if not plan.ph_low <= seen.ph <= plan.ph_high:
            window = f"{plan.ph_low:g} to {plan.ph_high:g}"
            return Trouble(Cause.PERMIT_WITHDRAWN, f"pH has moved to {seen.ph:.2f}, the window is {window}")
        return None
