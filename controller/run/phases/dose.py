"""Dose: move one input's amount into the stirred tank, air off, its bottle kept agitated."""

from __future__ import annotations

from controller.plan.steps import Dose
from controller.run.motion import CountedMotion, MotionState
from controller.run.phases.phase import Turn, View
from controller.run.request import Request
from controller.run.situation import Cause, Trouble


class DosePhase:
    """Carry out one counted motion; an unproven one is told and left to a person."""

    def __init__(self, step: Dose, motion: CountedMotion) -> None:
        self._step = step
        self._motion = motion
        self._told = False

    def scan(self, view: View) -> Turn:
        """Ask for stir, agitator and the counted motion."""
        command = self._motion.scan(view)
        if self._motion.state is MotionState.OVER:
            return self._over(view)
        agitators = frozenset({self._step.agitator}) if self._step.agitator else frozenset()
        request = Request(dose=command, stir=True, agitators=agitators)
        return Turn(request, wake_s=self._motion.wake_s(view.now_s))

    def resume(self, view: View) -> None:
        """Go on with the same dose id: the board reaches the count and never passes it."""

    def abandon(self, view: View) -> None:
        """Record how far the motion came."""
        self._motion.abandon(view)

    def _over(self, view: View) -> Turn:
        motion = self._motion
        if not motion.proven and not self._told:
            self._told = True
            missing_ml = (motion.target_count - motion.count_seen) * motion.pump.ml_per_count
            text = (
                f"{self._step.title}: {motion.count_seen * motion.pump.ml_per_count:.1f} mL proven of "
                f"{self._step.target_ml:.1f} mL; up to {missing_ml:.1f} mL more may have gone in"
            )
            return Turn(wake_s=view.now_s, trouble=Trouble(Cause.DOSE_UNPROVEN, text))
        ml = motion.count_seen * motion.pump.ml_per_count
        return Turn(wake_s=view.now_s, done=True, note=f"{ml:.1f} mL of {self._step.target_ml:.1f} mL")
