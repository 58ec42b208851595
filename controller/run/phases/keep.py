"""Keep: hold a released tank ready: permit on, short stirs, pH watched.

The permit goes when the tank is too old, or when pH has been lost or out of its window for a while in the
still tank; it never comes back within the batch. Before each stir a reading goes into the record.
"""

from __future__ import annotations

from controller.plan.steps import Keep
from controller.run.phases.phase import PlainPhase, Turn, View
from controller.run.readings import reading_event
from controller.run.request import Request
from controller.run.situation import Cause, Trouble

LOOK_S = 30.0
STILL_S = 120.0
DOUBT_S = 90.0


class KeepPhase(PlainPhase):
    """Alternate stillness and short stirs until the tank is too old."""

    def __init__(self, step: Keep) -> None:
        self._step = step
        self._stir_from_s = step.stir_every_s
        self._looked = False
        self._still_from_s = 0.0
        self._doubt_from_s: float | None = None
        self._cleared = True

    def scan(self, view: View) -> Turn:
        """Ask for the permit, and for stir when its time has come."""
        step = self._step
        if view.image.panel.low_float:
            return Turn(wake_s=view.now_s, done=True, note="the tank has been fed")
        if self._age_s(view) >= step.max_age_s:
            hours = step.max_age_s / 3600
            return Turn(wake_s=view.now_s, done=True, note=f"permit withdrawn after {hours:g} h")
        why = self._why_doubt(view)
        if why is not None:
            return Turn(wake_s=view.now_s, trouble=Trouble(Cause.PERMIT_WITHDRAWN, why))
        into_stir_s = view.elapsed_s - self._stir_from_s
        if into_stir_s < 0:
            return self._turn(view, stir=False, left_s=-into_stir_s)
        if not self._looked:
            self._looked = True
            self._record(view)
        if into_stir_s < step.stir_s:
            return self._turn(view, stir=True, left_s=step.stir_s - into_stir_s)
        self._still_from_s = view.elapsed_s
        self._stir_from_s += step.stir_every_s
        self._looked = False
        return self._turn(view, stir=False, left_s=self._stir_from_s - view.elapsed_s)

    def resume(self, view: View) -> None:
        """Give no permit until the tank has been still for a while and pH has been seen in its window."""
        self._cleared = False
        self._still_from_s = view.elapsed_s
        self._stir_from_s = view.elapsed_s + self._step.stir_every_s
        self._looked, self._doubt_from_s = False, None

    def _turn(self, view: View, *, stir: bool, left_s: float) -> Turn:
        until_old_s = self._step.max_age_s - self._age_s(view)
        wake_s = view.now_s + max(0.05, min(LOOK_S, left_s, until_old_s))
        return Turn(Request(stir=stir, permit=self._cleared), wake_s=wake_s)

    def _age_s(self, view: View) -> float:
        """Give the time since the release; a hold makes a tank no younger."""
        released_at_s = view.memory.released_at_s
        return view.elapsed_s if released_at_s is None else view.now_s - released_at_s

    def _why_doubt(self, view: View) -> str | None:
        """Say why the tank must not be fed any more, once that has been so for a while."""
        doubt = self._doubt(view)
        if doubt is None:
            self._doubt_from_s = None
            self._cleared = self._cleared or self._still(view)
            return None
        if self._doubt_from_s is None:
            self._doubt_from_s = view.elapsed_s
        return doubt if view.elapsed_s - self._doubt_from_s >= DOUBT_S else None

    def _doubt(self, view: View) -> str | None:
        """Judge what is seen now; a tank that was just stirred is judged only on having a reading."""
        ph, plan = view.readings.ph, view.memory.plan
        if ph is None or not view.readings.ph_proven:
            return f"pH can no longer be proven: {view.readings.ph_why}"
        if self._still(view) and not plan.ph_low <= ph <= plan.ph_high:
            return f"pH has moved to {ph:.2f}, the window is {plan.ph_low:g} to {plan.ph_high:g}"
        return None

    def _still(self, view: View) -> bool:
        return self._still_from_s + STILL_S <= view.elapsed_s < self._stir_from_s

    def _record(self, view: View) -> None:
        """Put a reading of the still tank on record; it counts only if the probe is sound."""
        seen = view.readings
        proven = seen.ph is not None and seen.ph_proven
        view.put(reading_event(seen, view.memory.batch, view.number, seen.ph, accepted=proven))
