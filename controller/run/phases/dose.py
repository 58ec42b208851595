"""Dose: move one input's amount into the stirred tank, air off, its bottle kept agitated."""

from __future__ import annotations

from dataclasses import replace

from controller.measure.metering import ml_for
from controller.plan.steps import Dose, Purpose
from controller.run.motion import CountedMotion, MotionState
from controller.run.phases.phase import Turn, View
from controller.run.request import Request
from controller.run.situation import Trouble


class DosePhase:
    """Carry out one counted motion; an unproven one is told once and left to a person."""

    def __init__(self, step: Dose, motion: CountedMotion) -> None:
        self._step = step
        self._motion = motion
        agitators = frozenset({step.agitator}) if step.agitator else frozenset[str]()
        self._stirring = Request(stir=True, agitators=agitators)
        self._agitate_until_s = 0.0

    def scan(self, view: View) -> Turn:
        """Ask for stir, agitator and the counted motion."""
        if view.elapsed_s < self._agitate_until_s:
            left_s = self._agitate_until_s - view.elapsed_s
            return Turn(self._stirring, wake_s=view.now_s + max(0.05, min(5.0, left_s)))
        command = self._motion.scan(view)
        if self._motion.refused is not None:
            return Turn(wake_s=view.now_s, trouble=self._motion.refused)
        if self._motion.state is MotionState.OVER:
            return self._over(view)
        return Turn(replace(self._stirring, dose=command), wake_s=self._motion.wake_s(view.now_s))

    def suspend(self, view: View) -> Trouble | None:
        """Write and tell what the board has forgotten."""
        self._motion.suspend(view)
        return self._motion.trouble()

    def resume(self, view: View) -> None:
        """Go on with the same dose id, once a bottle that settles has been agitated again."""
        if self._step.agitator is not None:
            self._agitate_until_s = view.elapsed_s + view.site.inputs[self._step.input].agitate_s

    def abandon(self, view: View) -> None:
        """Record how far the motion came."""
        self._motion.abandon(view)

    def _over(self, view: View) -> Turn:
        trouble = self._motion.trouble()
        if trouble is not None:
            return Turn(wake_s=view.now_s, trouble=trouble)
        ml = ml_for(self._motion.pump, self._motion.count_seen)
        if self._step.purpose is Purpose.TRIM:
            view.memory.trim_dosed_ml = ml
        note = f"{ml:.1f} mL of {self._step.target_ml:.1f} mL"
        return Turn(self._stirring, wake_s=view.now_s, done=True, note=note)
