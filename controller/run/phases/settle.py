"""Settle: keep stir and air off so that foam breaks and the surface calms.

Its last seconds are a look at the level, which costs no time: has what was moved since the look before come?
"""

from __future__ import annotations

from controller.measure.arrived import StillLevel
from controller.measure.level import litres_per_mm
from controller.plan.steps import Settle
from controller.run.amending import amended_on_disk, held_against_level
from controller.run.arrived import EVERY_S, LOOKS, StillLook, sunk
from controller.run.phases.phase import PlainPhase, Turn, View
from controller.run.phases.settling import note_settling

LOOK_S = 10.0
ASK_AGAIN_S = 0.05
TAKES_S = (LOOKS + 1) * EVERY_S


class SettlePhase(PlainPhase):
    """Wait; a hold may have stirred the tank by hand, so the wait begins again after one."""

    def __init__(self, step: Settle) -> None:
        self._step = step
        self._from_s = 0.0
        self._half: StillLook | None = None
        self._last: StillLook | None = None

    def scan(self, view: View) -> Turn:
        """Ask for nothing until the time has passed."""
        note_settling(view, view.elapsed_s - self._from_s)
        left_s = self._from_s + self._step.settle_s - view.elapsed_s
        half_s = self._step.settle_s / 2
        wakes_s = [view.now_s + min(LOOK_S, max(0.05, left_s))]
        if left_s <= half_s + 1e-6:
            self._half = self._half or StillLook(litres_per_mm(view.site.rig.tank), calm_s=0.0)
            wakes_s.append(self._at(self._half, view))
        if left_s <= TAKES_S + 1e-6:
            self._last = self._last or StillLook(litres_per_mm(view.site.rig.tank), calm_s=0.0)
            wakes_s.append(self._at(self._last, view))
        wakes_s += [view.now_s + left_s - start_s for start_s in (half_s, TAKES_S) if left_s > start_s]
        if left_s > 1e-6:
            return Turn(wake_s=min(wakes_s))
        return self._over(view)

    def resume(self, view: View) -> None:
        """Begin the wait again."""
        self._from_s = view.elapsed_s
        self._half = self._last = None

    def _at(self, look: StillLook, view: View) -> float:
        """Go on with a look; give when it wants to be asked again."""
        return view.now_s + LOOK_S if look.over else look.look(view.now_s, view.readings.level_l)

    def _over(self, view: View) -> Turn:
        arrivals, level = view.memory.arrivals, self._level(view)
        if not arrivals.follows:
            if not amended_on_disk(view):
                return Turn(wake_s=view.now_s + ASK_AGAIN_S)
            arrivals.begin(level)
            return Turn(wake_s=view.now_s, done=True)
        trouble, note = held_against_level(view, level, whole=True)
        return Turn(wake_s=view.now_s, done=trouble is None, note=note, trouble=trouble)

    def _level(self, view: View) -> StillLevel | None:
        """Give the look, with how far the level sank since half-time where something foams."""
        if self._half is None or self._last is None:
            return None
        if not view.memory.arrivals.foams:
            return self._last.level
        return sunk(self._half.level, self._last.level)
