"""Rinse: wash the manifold with several small shots of water, each a counted motion of its own.

Where the water can stands on a scale the whole step is weighed: a rinse that did not come would leave one
concentrate in the line for the next to meet.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Mapping

from controller.measure.weighing import StillWeight, WeighedAmount, beyond_doubt, weighed_amount
from controller.measure.weight_loss import MISSING_SHARE
from controller.plan.steps import Rinse
from controller.plan.times import RINSE_PAUSE_S
from controller.run.dose_amount import put_weighing
from controller.run.metered import drift_told, learn_tube, once
from controller.run.motion import CountedMotion, MotionState
from controller.run.phases.phase import Turn, View
from controller.run.request import Request
from controller.run.situation import Cause, Trouble
from controller.run.standing import changed_by_itself
from controller.run.weighed_motion import TOUCHED_G
from controller.run.weigher import Weigher, scale_of
from controller.settings.values import Pump

WATER_KG_L = 0.998
"""Near enough from 10 to 28 °C (0.9997 to 0.9962: CIPM, Metrologia 38 (2001) 301)."""


class RinsePhase:
    """Repeat the shot, with a pause in which the line drains. `shot` makes one fresh motion.

    Weighed before the first shot and after the last. A rinse of which too little came is told, and is done
    again from its first shot once a person has resumed.
    """

    def __init__(self, step: Rinse, shot: Callable[[], CountedMotion]) -> None:
        self._step = step
        self._shot = shot
        self._motion = shot()
        self._left = step.times
        self._pause_until_s: float | None = None
        self._weigher: Weigher | None = None
        self._before: StillWeight | None = None
        self._stood: StillWeight | None = None
        self._asked = self._held_at_rest = False
        self._shots: list[CountedMotion] = []
        self._in_part = False
        self._from_ml = 0.0
        self._untold: deque[Trouble] = deque()

    def scan(self, view: View) -> Turn:
        """Ask for stir and the present shot; tell what was seen, one thing a scan."""
        still = Request(stir=True)
        if self._untold:
            return Turn(still, wake_s=view.now_s, trouble=self._untold.popleft())
        if not self._asked:
            return self._weigh_before(view, still)
        if self._left <= 0:
            return self._weigh_after(view, still)
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
        """Go on with the shot under way, once the can is weighed anew: a person may have been at it."""
        self._weigher = None
        if self._left > 0:
            self._stood, self._before, self._asked = self._before, None, False
        else:
            self._held_at_rest = True

    def abandon(self, view: View) -> None:
        """Record how far the shot came."""
        self._motion.abandon(view)

    def _after_shot(self, view: View, still: Request) -> Turn:
        self._shots.append(self._motion)
        self._left -= 1
        if self._left > 0:
            self._pause_until_s = view.now_s + RINSE_PAUSE_S
            return Turn(still, wake_s=self._pause_until_s)
        return Turn(still, wake_s=view.now_s, done=self._before is None)

    def _weigh_before(self, view: View, still: Request) -> Turn:
        scale = scale_of(view, self._motion.pump)
        if scale is None:
            self._asked = True
            return Turn(still, wake_s=view.now_s)
        wake_s = self._weigh(view, scale)
        if self._weigher is not None:
            return Turn(still, wake_s=wake_s)
        self._asked = True
        self._hold_against_counts()
        if self._before is None:
            self._tell_lost(view, scale, "it gave no still weight before the rinse")
        return Turn(still, wake_s=view.now_s)

    def _counted_ml(self) -> float:
        """Give what has been counted since the can was weighed."""
        turning_ml = 0.0 if self._motion in self._shots else self._motion.counted_ml
        return sum(shot.amount.ml for shot in self._shots) + turning_ml - self._from_ml

    def _hold_against_counts(self) -> None:
        """After a hold: the first weight holds where the can stands as counted; else all is rinsed again."""
        stood, self._stood = self._stood, None
        begun = bool(self._shots) or self._motion.state is not MotionState.NEW
        if not begun:
            return
        counted_ml = self._counted_ml()
        if stood is not None and self._before is not None:
            off_ml = weighed_amount(stood, self._before, WATER_KG_L).ml - counted_ml
            if abs(off_ml) <= max(TOUCHED_G, MISSING_SHARE * counted_ml):
                self._before = stood
                return
        self._in_part, self._shots = True, []
        under_way = self._motion.under_way
        self._from_ml = self._motion.counted_ml if under_way else 0.0
        if stood is not None:
            self._left = self._step.times + (1 if under_way else 0)

    def _weigh(self, view: View, scale: str) -> float:
        """Take one scan of a weighing; `_weigher` is None again when it is over, its weight in `_before`."""
        self._weigher = self._weigher or Weigher(scale)
        wake_s = self._weigher.scan(view)
        if self._weigher.over:
            self._look_at_others(view, scale, self._weigher.weights)
            self._before, self._weigher = self._weigher.weights.get(scale), None
        return wake_s

    def _look_at_others(self, view: View, scale: str, weights: Mapping[str, StillWeight]) -> None:
        """Nothing but the can may have changed while it was drawn from."""
        changed = changed_by_itself(view, {name: one for name, one in weights.items() if name != scale})
        if changed is not None:
            self._untold.append(changed)
        if scale in weights:
            view.memory.stood_g[scale] = weights[scale].grams

    def _weigh_after(self, view: View, still: Request) -> Turn:
        before, pump = self._before, self._motion.pump
        if before is None or pump.scale is None:
            return Turn(still, wake_s=view.now_s, done=True)
        self._weigher = self._weigher or Weigher(pump.scale)
        wake_s = self._weigher.scan(view)
        if not self._weigher.over:
            return Turn(still, wake_s=wake_s)
        self._look_at_others(view, pump.scale, self._weigher.weights)
        after, self._weigher, self._before = self._weigher.weights.get(pump.scale), None, None
        if after is None:
            self._tell_lost(view, pump.scale, "it gave no still weight after the rinse")
            return Turn(still, wake_s=view.now_s)
        weighed = weighed_amount(before, after, WATER_KG_L)
        if beyond_doubt(-weighed.ml, weighed.uncertainty_ml):
            if self._held_at_rest:
                return self._again(view, still, pump, "the can was filled before it was weighed again")
            self._tell_lost(view, pump.scale, "the can became heavier")
            return Turn(still, wake_s=view.now_s)
        return self._judge(view, still, pump, weighed)

    def _judge(self, view: View, still: Request, pump: Pump, weighed: WeighedAmount) -> Turn:
        """Go on, or tell that the line was not rinsed. What was weighed whole goes on record and teaches."""
        counted_ml = self._counted_ml()
        short_ml = counted_ml - weighed.ml
        if not self._in_part:
            self._keep(view, pump, weighed)
        said = f"{weighed.ml:.0f} mL of {counted_ml:.0f} mL of rinse water left the can by weight"
        if short_ml > MISSING_SHARE * counted_ml and beyond_doubt(short_ml, weighed.uncertainty_ml):
            return self._again(view, still, pump, said)
        drifts = drift_told(view, pump)
        if drifts is not None:
            self._untold.append(drifts)
        return Turn(still, wake_s=view.now_s, done=not self._untold, note=said)

    def _keep(self, view: View, pump: Pump, weighed: WeighedAmount) -> None:
        """Put the weight of the whole rinse on record, under its last shot, and learn of the tube from it."""
        put_weighing(view, self._shots[-1].dose_id, pump.scale or "", weighed)
        counts = sum(shot.count_seen for shot in self._shots)
        learn_tube(view, pump, counts, weighed.ml, weighed.uncertainty_ml, doses=len(self._shots))

    def _again(self, view: View, still: Request, pump: Pump, why: str) -> Turn:
        """Tell that the line was not seen to be rinsed, and begin with the first shot after the resume."""
        self._left, self._shots, self._in_part, self._from_ml = self._step.times, [], False, 0.0
        self._motion, self._asked, self._held_at_rest = self._shot(), False, False
        text = f"{why}: fill it, free tube and pump {pump.name}; resume rinses the line again"
        return Turn(still, wake_s=view.now_s, trouble=Trouble(Cause.DOSE_MISSING, text))

    def _tell_lost(self, view: View, scale: str, why: str) -> None:
        told = once(view, Trouble(Cause.SCALE_LOST, f"scale {scale} at the rinse: {why}"), scale)
        if told is not None:
            self._untold.append(told)
