"""One motion and the scale under its bottle: weigh at rest, turn and watch, weigh again, write what came.

A pump without a scale passes straight through. What the amounts mean for the dose, and whether more is to be
moved, is the phase's.

A scale that gives no still weight, or one that no pump can bring about (the bottle became heavier), counts as
not there: that dose is counted, as on a site without scales, a person is told, and the batch goes on. The
counts are proven by the board in either case; only the second proof is missing, and holding every dose for a
broken scale would make a rig with scales feed fewer plants than one without.

A motion that a hold interrupts is weighed anew before it goes on: where the bottle stands as the counts say,
the first weight still holds; else somebody has been at it, and what had turned before counts as counted.
"""

from __future__ import annotations

import math
from enum import Enum

from controller.measure.weighing import StillWeight, WeighedAmount, beyond_doubt, grams, weighed_amount
from controller.measure.weight_loss import MISSING_SHARE, WeightLoss
from controller.run.motion import CountedMotion, MotionState
from controller.run.phases.phase import View
from controller.run.request import DoseCommand
from controller.run.situation import Trouble
from controller.run.standing import changed_by_itself
from controller.run.weigher import Weigher, reading_g

CLOSELY_S, CLOSE_WATCH_S, WATCH_S = 30.0, 1.0, 2.0
"""The weight is watched closely for the first seconds of a motion, in which most faults show."""
TOUCHED_G = 15.0
"""After a hold: so far off the counts (or `MISSING_SHARE` of them) somebody has been at the bottle."""


class Stage(Enum):
    """What the motion waits for."""

    BEFORE = "weight before"
    TURN = "turning"
    AFTER = "weight after"
    OVER = "over"


class WeighedMotion:
    """Carry one motion through. `scale` None: counted only. `before`: weights just taken, if they still hold.

    `changed` is to be told before it goes on; `still`: motor and agitator must rest now. `lost` says why the
    scale could not be used; `missing` what it saw when the motor was stopped because too little left the
    bottle; `weighed` is what it says of the dose.
    """

    def __init__(
        self,
        motion: CountedMotion,
        scale: str | None,
        density_kg_l: float,
        before: dict[str, StillWeight] | None = None,
    ) -> None:
        self.motion = motion
        self.lost = ""
        self.missing = ""
        self.changed: Trouble | None = None
        self.weighed: WeighedAmount | None = None
        self.after: dict[str, StillWeight] | None = None
        self._scale = scale
        self._density = density_kg_l
        self._before = before or {}
        self._again = False
        self._stage = Stage.BEFORE
        self._weigher = Weigher(scale or "")
        self._losses: dict[str, WeightLoss] = {}
        self._loss_from_ml = 0.0
        self._turned_from_s: float | None = None
        self._wake_s = 0.0
        self._sampled_s = -math.inf
        if scale is None or scale in self._before:
            self._begin_turning()

    @property
    def over(self) -> bool:
        """Tell whether its result is on disk."""
        return self.motion.state is MotionState.OVER

    @property
    def still(self) -> bool:
        """Tell whether motor and agitators must rest now."""
        return self._stage in (Stage.BEFORE, Stage.AFTER)

    def wake_s(self, now_s: float) -> float:
        """Say when to look again at the latest."""
        return self._wake_s if self.still else min(self.motion.wake_s(now_s), max(self._wake_s, now_s + 0.05))

    def scan(self, view: View) -> DoseCommand | None:
        """Go one step further; give the command to repeat while the motor is to turn."""
        if self._stage is Stage.BEFORE:
            self._wake_s = self._weigher.scan(view)
            if not self._weigher.over:
                return None
            self._take_before(view)
            if self.changed is not None:
                return None
        if self._stage is Stage.AFTER:
            self._wake_s = self._weigher.scan(view)
            if self._weigher.over:
                self._conclude(view)
            return None
        return self._turn(view)

    def suspend(self, view: View) -> None:
        """Take a hold. A dose that was stopped because it did not come is put on record at once."""
        if self.missing and self.motion.state is not MotionState.OVER:
            self._give_up(view, self.missing)
        self.motion.suspend(view)

    def resume(self, view: View) -> None:
        """Weigh anew what a hold may have changed."""
        self._weigher, self.changed, self.motion.refused = Weigher(self._scale or ""), None, None
        if self._scale is None or self.lost or self._stage is not Stage.TURN:
            return
        if self.motion.under_way or self.motion.state is MotionState.NEW:
            self._again, self._stage = self.motion.under_way, Stage.BEFORE

    def abandon(self, view: View, reason: str = "") -> None:
        """Write what is known of a motion that will not be finished."""
        if self.missing or reason:
            self._give_up(view, self.missing or reason)
        else:
            self.motion.abandon(view)

    def _take_before(self, view: View) -> None:
        """Begin, or go on, from the weights just taken."""
        new = self._weigher.weights
        own = new.get(self._scale or "")
        if own is None:
            self.lost = "it gave no still weight before the dose"
        elif not self._again:
            self._before = new
            self.changed = changed_by_itself(view, new)
        else:
            self._after_hold(own)
        self._begin_turning()

    def _after_hold(self, own: StillWeight) -> None:
        """Keep the weight from before the hold if the bottle stands as counted; else begin from here."""
        scale = self._scale or ""
        expected_g = grams(self.motion.counted_ml, self._density)
        before = self._before[scale]
        if abs(before.grams - own.grams - expected_g) > max(TOUCHED_G, MISSING_SHARE * expected_g):
            doubt_g = grams(self.motion.counted_doubt_ml, self._density) / 2.0
            untouched = StillWeight(own.grams + expected_g, math.hypot(own.standard_g, doubt_g))
            self._before = {**self._weigher.weights, scale: untouched}

    def _begin_turning(self) -> None:
        self._stage = Stage.TURN
        self._turned_from_s = None
        self._loss_from_ml = self.motion.counted_ml
        self._losses = {}
        if self._scale is None or self.lost:
            return
        weights = {**self._before, **(self._weigher.weights if self._again else {})}
        self._losses = {name: WeightLoss(w.grams, w.standard_g) for name, w in weights.items()}

    def _turn(self, view: View) -> DoseCommand | None:
        motion = self.motion
        command = motion.scan(view)
        if motion.state is MotionState.MOVED:
            if self._scale is None or self.lost:
                motion.conclude(view, None)
            else:
                self._stage, self._weigher = Stage.AFTER, Weigher(self._scale)
                self._wake_s = self._weigher.scan(view)
            return None
        if command is None or not self._losses:
            self._wake_s = view.now_s + WATCH_S
            return command
        if self._turned_from_s is None:
            self._turned_from_s = view.now_s
        close = view.now_s - self._turned_from_s < CLOSELY_S
        self._wake_s = view.now_s + (CLOSE_WATCH_S if close else WATCH_S)
        if self._sees_too_little(view):
            motion.halt()
            return None
        return command

    def _sees_too_little(self, view: View) -> bool:
        """Hold the weight against the counts, once a second."""
        if view.now_s - self._sampled_s < CLOSE_WATCH_S - 1e-6:
            return False
        self._sampled_s = view.now_s
        expected_g = grams(self.motion.counted_ml - self._loss_from_ml, self._density)
        if expected_g <= 0.0:
            return False
        for name, loss in self._losses.items():
            g = reading_g(view, name)
            if g is not None:
                loss.add(expected_g, g)
        own = self._losses[self._scale or ""]
        if own.heavier:
            self.lost, self._losses = "it became heavier while the pump turned", {}
            return False
        if not own.missing:
            return False
        self.missing = self._words(own, expected_g)
        return True

    def _words(self, own: WeightLoss, expected_g: float) -> str:
        """Say what the scales saw when the motor was stopped."""
        others = [name for name, loss in self._losses.items() if name != self._scale and loss.taken]
        seen_g = own.share * expected_g
        text = f"scale {self._scale} lost {seen_g:.0f} g while {expected_g:.0f} g were counted"
        if others:
            return f"{text}, and scale {' and '.join(others)} lost weight: its tube hangs in the wrong bottle"
        return f"{text}: bottle empty, tube blocked or drawing air, rotor or pump tube broken"

    def _conclude(self, view: View) -> None:
        scale = self._scale or ""
        before, after = self._before.get(scale), self._weigher.weights.get(scale)
        self._stage = Stage.OVER
        if before is None or after is None:
            self.lost = "it gave no still weight after the dose"
            self._give_up(view, self.missing)
            return
        weighed = weighed_amount(before, after, self._density)
        if not self.missing and self._jumped(weighed):
            self.lost = "its weight jumped while the pump turned"
            self._give_up(view, "")
            return
        if beyond_doubt(-weighed.ml, weighed.uncertainty_ml):
            self.lost = f"it shows {after.grams - before.grams:.0f} g more after the dose than before it"
            self._give_up(view, self.missing)
            return
        self.weighed, self.after = weighed, self._weigher.weights
        view.memory.stood_g.update((name, weight.grams) for name, weight in self.after.items())
        self.motion.conclude(view, weighed, scale, self.missing)

    def _jumped(self, weighed: WeighedAmount) -> bool:
        """Tell whether the amount rests on a jump of the weight and not on what left evenly."""
        own, counted_ml = self._losses.get(self._scale or ""), self.motion.counted_ml
        whole = not self._again and counted_ml > 0.0
        return own is not None and whole and own.jumped(weighed.ml / counted_ml)

    def _give_up(self, view: View, reason: str) -> None:
        """Write the result without a still weight; of a dose that did not come, by the watched weights."""
        self._stage = Stage.OVER
        own = self._losses.get(self._scale or "")
        if self.missing and own is not None and math.isfinite(own.standard_share):
            self.motion.came(own.share, own.standard_share)
        if self.motion.state is MotionState.MOVED:
            self.motion.conclude(view, None, "", reason)
        else:
            self.motion.abandon(view, reason)
