"""Release: give the feed permit only to a tank that is proven fit; otherwise quarantine it."""

from __future__ import annotations

from controller.plan.steps import Release
from controller.run.phases.fresh import not_yet
from controller.run.phases.phase import PlainPhase, Turn, View
from controller.run.situation import Cause, Trouble

VOLUME_SHARE = 0.02


class ReleasePhase(PlainPhase):
    """Judge the last accepted reading, taken after the last dose and not long ago, and the volume."""

    def __init__(self, step: Release) -> None:
        self._step = step

    def scan(self, view: View) -> Turn:
        """Release or refuse; when the reading has grown old, measure once more first."""
        wait = not_yet(view, view.readings.level_l, self._step)
        if wait is not None:
            return wait
        why = self._unfit(view)
        if why is not None:
            return Turn(wake_s=view.now_s, trouble=Trouble(Cause.TANK_UNFIT, why))
        view.memory.released = True
        view.memory.released_at_s = view.now_s
        return Turn(wake_s=view.now_s, done=True, note="released")

    def _unfit(self, view: View) -> str | None:
        reading, level_l, plan = view.memory.last_reading, view.readings.level_l, view.memory.plan
        if reading is None:
            return "pH was not measured after the last dose"
        if not self._step.ph_low <= reading.ph <= self._step.ph_high:
            window = f"{self._step.ph_low:g} to {self._step.ph_high:g}"
            return f"pH is {reading.ph:.2f}, the window is {window}"
        if level_l is None:
            return "the level cannot be read"
        if abs(level_l - plan.final_l) > view.site.rig.fill.disagreement_l + VOLUME_SHARE * plan.final_l:
            return f"the tank holds {level_l:.1f} L, the plan is {plan.final_l:.1f} L"
        return None
