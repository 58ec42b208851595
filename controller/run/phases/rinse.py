"""Rinse: wash the manifold with several small shots of water, each a counted motion of its own."""

from __future__ import annotations

from collections.abc import Callable

from controller.plan.steps import Rinse
from controller.plan.times import RINSE_PAUSE_S
from controller.run.motion import CountedMotion, MotionState
from controller.run.phases.phase import Turn, View
from controller.run.request import Request
from controller.run.situation import Trouble


class RinsePhase:
    """Repeat the shot, with a pause in which the line drains. `shot` makes one fresh motion."""

    def __init__(self, step: Rinse, shot: Callable[[], CountedMotion]) -> None:
        self._shot = shot
        self._motion = shot()
        self._left = step.times
        self._pause_until_s: float | None = None

    def scan(self, view: View) -> Turn:
        """Ask for stir and the present shot."""
        still = Request(stir=True)
        if self._pause_until_s is not None:
            if view.now_s < self._pause_until_s:
                return Turn(still, wake_s=self._pause_until_s)
            self._pause_until_s = None
            self._motion = self._shot()
        command = self._motion.scan(view)
        if self._motion.refused is not None:
            return Turn(wake_s=view.now_s, trouble=self._motion.refused)
        if self._motion.state is not MotionState.OVER:
            return Turn(Request(dose=command, stir=True), wake_s=self._motion.wake_s(view.now_s))
        trouble = self._motion.trouble()
        if trouble is not None:
            return Turn(wake_s=view.now_s, trouble=trouble)
        return self._after_shot(view, still)

    def suspend(self, view: View) -> Trouble | None:
        """Write and tell what the board has forgotten."""
        self._motion.suspend(view)
        return self._motion.trouble()

    def resume(self, view: View) -> None:
        """Go on with the shot under way."""

    def abandon(self, view: View) -> None:
        """Record how far the shot came."""
        self._motion.abandon(view)

    def _after_shot(self, view: View, still: Request) -> Turn:
        self._left -= 1
        if self._left <= 0:
            return Turn(still, wake_s=view.now_s, done=True)
        self._pause_until_s = view.now_s + RINSE_PAUSE_S
        return Turn(still, wake_s=self._pause_until_s)
