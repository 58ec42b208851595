"""Deliver: move one amount into a vessel beside the tank, where a person weighs it or throws it away.

The same counted motion as a dose, with the tank left alone: no stir, no air. It knows nothing of weighing.
"""

from __future__ import annotations

from controller.plan.steps import Deliver
from controller.run.motion import CountedMotion, MotionState
from controller.run.phases.phase import Turn, View
from controller.run.request import Request
from controller.run.situation import Trouble


class DeliverPhase:
    """Agitate the bottle if it settles, then carry out one counted motion."""

    def __init__(self, step: Deliver, motion: CountedMotion) -> None:
        self._step = step
        self._motion = motion
        self._agitators = frozenset({step.agitator}) if step.agitator else frozenset[str]()
        self._agitate_until_s = step.agitate_s if step.agitator else 0.0

    def scan(self, view: View) -> Turn:
        """Ask for the agitator and the counted motion, and for nothing at the tank."""
        agitating = Request(agitators=self._agitators)
        board = view.image.board
        if view.memory.boot_id is None and board is not None:
            view.memory.boot_id = board.boot_id
        if view.elapsed_s < self._agitate_until_s:
            left_s = self._agitate_until_s - view.elapsed_s
            return Turn(agitating, wake_s=view.now_s + max(0.05, min(5.0, left_s)))
        command = self._motion.scan(view)
        if self._motion.refused is not None:
            return Turn(wake_s=view.now_s, trouble=self._motion.refused)
        if self._motion.state is MotionState.OVER:
            return self._over(view)
        request = Request(dose=command, agitators=self._agitators)
        return Turn(request, wake_s=self._motion.wake_s(view.now_s))

    def suspend(self, view: View) -> Trouble | None:
        """Write and tell what the board has forgotten."""
        self._motion.suspend(view)
        return self._motion.trouble()

    def resume(self, view: View) -> None:
        """Go on with the same dose id, once a bottle that settles has been agitated again."""
        if self._step.agitator is not None:
            self._agitate_until_s = view.elapsed_s + self._step.agitate_s

    def abandon(self, view: View) -> None:
        """Record how far the motion came."""
        self._motion.abandon(view)

    def _over(self, view: View) -> Turn:
        trouble = self._motion.trouble()
        if trouble is not None:
            return Turn(wake_s=view.now_s, trouble=trouble)
        note = f"{self._motion.count_seen} counts, meant for {self._step.target_ml:.1f} mL"
        return Turn(wake_s=view.now_s, done=True, note=note)
