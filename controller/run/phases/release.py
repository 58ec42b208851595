"""Release: give the feed permit only to a tank that is proven fit; otherwise quarantine it."""

from __future__ import annotations

from controller.plan.steps import Release
from controller.run.phases.phase import PlainPhase, Turn, View
from controller.run.situation import Cause, Trouble


class ReleasePhase(PlainPhase):
    """Judge the last accepted reading, taken after the last dose."""

    def __init__(self, step: Release) -> None:
        self._step = step

    def scan(self, view: View) -> Turn:
        """Release or refuse, at once."""
        why = self._unfit(view)
        if why is not None:
            return Turn(wake_s=view.now_s, trouble=Trouble(Cause.TANK_UNFIT, why))
        view.memory.released = True
        view.memory.released_at_s = view.now_s
        return Turn(wake_s=view.now_s, done=True, note="released")

    def _unfit(self, view: View) -> str | None:
        reading = view.memory.last_reading
        if reading is None:
            return "pH was not measured after the last dose"
        if not self._step.ph_low <= reading.ph <= self._step.ph_high:
            window = f"{self._step.ph_low:g} to {self._step.ph_high:g}"
            return f"pH is {reading.ph:.2f}, the window is {window}"
        return None
