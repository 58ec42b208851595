"""Release: give the feed permit only to a tank that is proven fit; otherwise quarantine it."""

from __future__ import annotations

from controller.plan.steps import Release
from controller.run.phases.fresh import not_yet
from controller.run.phases.phase import PlainPhase, Turn, View
from controller.run.situation import Cause, Trouble

VOLUME_SHARE = 0.02


class ReleasePhase(PlainPhase):
    """Judge the last accepted reading, taken after the last dose and not long ago, and the volume.

    Conductivity is judged only where the recipe sets limits to it.
    """

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
        strength = self._conductivity(reading.ec_us_cm)
        if strength is not None:
            return strength
        if level_l is None:
            return "the level cannot be read"
        if abs(level_l - plan.final_l) > view.site.rig.fill.disagreement_l + VOLUME_SHARE * plan.final_l:
            return f"the tank holds {level_l:.1f} L, the plan is {plan.final_l:.1f} L"
        return None

    def _conductivity(self, us_cm: float | None) -> str | None:
        """Say why conductivity keeps the tank from being fed; None where it has no say, or is within."""
        low, high = self._step.conductivity_low_us_cm, self._step.conductivity_high_us_cm
        if not self._step.gates_conductivity:
            return None
        limits = " to ".join(("0" if low is None else f"{low:g}", "any" if high is None else f"{high:g}"))
        if us_cm is None:
            return f"conductivity cannot be read, wanted are {limits} µS/cm"
        if (low is not None and us_cm < low) or (high is not None and us_cm > high):
            return f"conductivity is {us_cm:.0f} µS/cm, wanted are {limits}"
        return None
