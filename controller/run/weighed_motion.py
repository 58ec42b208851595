"""One motion and the scale under its bottle: weigh at rest, turn and watch, weigh again, write what came.

A pump without a scale passes straight through. What the amounts mean for the dose, and whether more is to be
moved, is the phase's.

A scale that gives no still weight, or one that no pump can bring about (the bottle became heavier), counts as
not there: that dose is counted, as on a site without scales, a person is told, and the batch goes on. The
counts are proven by the board in either case; only the second proof is missing, and holding every dose for a
broken scale would make a rig with scales feed fewer plants than one without.

A motion that a hold interrupts is weighed anew before it goes on: where the bottle stands as the counts say,
the first weight still holds; else somebody has been at it, and what had turned before counts as counted, with
a doubt that covers what was watched. The other scales must not have changed meanwhile.
"""

from __future__ import annotations

from enum import Enum

from controller.measure.weighing import StillWeight, WeighedAmount, grams, millilitres, weighed_amount
from controller.measure.weight_loss import MISSING_SHARE
from controller.run.bottle_watch import WATCH_S, BottleWatch
from controller.run.dose_amount import DoseAmount, after, put_weighing, since
from controller.run.motion import BROKEN_OFF, CountedMotion, MotionState
from controller.run.phases.phase import View
from controller.run.request import DoseCommand
from controller.run.situation import Trouble
from controller.run.standing import changed_by_itself
from controller.run.two_proofs import Proof, proof, watched, watched_only
from controller.run.weigher import Weigher

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
    bottle; `unclear`, where weight and counts contradict each other, both. `weighed` is what the scale says;
    only a `sure` one may be topped up. `of_ml`: the dose that this is, or tops up.
    """

    def __init__(
        self,
        motion: CountedMotion,
        scale: str | None,
        density_kg_l: float,
        before: dict[str, StillWeight] | None = None,
        of_ml: float | None = None,
    ) -> None:
        self.motion = motion
        self.lost = ""
        self.missing = ""
        self.unclear = ""
        self.sure = self.teaches = False
        self.changed: Trouble | None = None
        self.weighed: WeighedAmount | None = None
        self.after: dict[str, StillWeight] | None = None
        self._scale = scale
        self._density = density_kg_l
        self._of_ml = motion.target_ml if of_ml is None else of_ml
        self._before = before or {}
        self._first = self._before.get(scale or "")
        self._earlier: DoseAmount | None = None
        self._again = self._held = self._held_at_rest = False
        self._stage = Stage.BEFORE
        self._weigher = Weigher(scale or "")
        self._watch = BottleWatch("", density_kg_l, {})
        self._from_ml = self._off_ml = 0.0
        self._wake_s = 0.0
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
        if self.missing and self._stage is not Stage.OVER:
            self._give_up(view, self.missing)
        self.motion.suspend(view)

    def resume(self, view: View) -> None:
        """Weigh anew what a hold may have changed."""
        self._weigher, self.changed, self.motion.refused = Weigher(self._scale or ""), None, None
        if self._scale is None or self.lost or self._stage is Stage.OVER:
            return
        if self._stage is Stage.AFTER:
            self._held = self._held_at_rest = True
        elif self.motion.under_way or self.motion.state is MotionState.NEW:
            self._again, self._stage = self.motion.under_way, Stage.BEFORE

    def abandon(self, view: View, reason: str = "") -> None:
        """Write what is known of a motion that will not be finished."""
        if self._stage is not Stage.OVER:
            self._give_up(view, self.missing or reason or BROKEN_OFF)

    def _take_before(self, view: View) -> None:
        """Begin, or go on, from the weights just taken."""
        new, scale = self._weigher.weights, self._scale or ""
        own = new.get(scale)
        if self._again:
            self._end_part(view, own)
        self.changed = changed_by_itself(
            view, {name: weight for name, weight in new.items() if name != scale or not self._again}
        )
        if own is None:
            self.lost = "it gave no still weight before the dose"
        else:
            self._before, self._first = new, self._first or own
        self._begin_turning()

    def _end_part(self, view: View, own: StillWeight | None) -> None:
        """After a hold: see whether the bottle stands as counted, or what turned so far is counted only."""
        self._held = True
        counted, before = self.motion.counted(view), self._before.get(self._scale or "")
        expected_g = grams(counted.ml - self._from_ml, self._density)
        off_g = 0.0 if before is None or own is None else abs(before.grams - own.grams - expected_g)
        self._off_ml += millilitres(off_g, self._density)
        if before is None or own is None or off_g > max(TOUCHED_G, MISSING_SHARE * expected_g):
            self._first, self._off_ml = own, 0.0
            self._earlier = after(self._earlier, watched(since(counted, self._earlier), self._watch.loss))

    def _begin_turning(self) -> None:
        self._stage, self._from_ml = Stage.TURN, self.motion.counted_ml
        watches = self._scale is not None and not self.lost
        self._watch = BottleWatch(self._scale or "", self._density, self._before if watches else {})

    def _turn(self, view: View) -> DoseCommand | None:
        motion, watch = self.motion, self._watch
        command = motion.scan(view)
        if motion.state is MotionState.MOVED:
            if self._scale is None or self.lost:
                self._give_up(view, "")
            else:
                self._stage, self._weigher = Stage.AFTER, Weigher(self._scale)
                self._wake_s = self._weigher.scan(view)
            return None
        if command is None:
            self._wake_s = view.now_s + WATCH_S
            return None
        watch.look(view, motion.counted_ml - self._from_ml)
        self._wake_s = watch.wake_s(view.now_s)
        if watch.heavier:
            self.lost = "it became heavier while the pump turned"
        if watch.missing:
            self.missing = watch.missing
            motion.halt()
            return None
        return command

    def _conclude(self, view: View) -> None:
        scale, weights = self._scale or "", self._weigher.weights
        before, after_dose = self._first, weights.get(scale)
        others = {name: one for name, one in weights.items() if name != scale}
        changed = changed_by_itself(view, others)
        # Of a dose that did not come it has been said already that another bottle lost weight.
        self.changed = None if self.missing else changed
        if before is None or after_dose is None:
            self.lost = "it gave no still weight after the dose"
            self._give_up(view, self.missing)
            return
        view.memory.stood_g[scale] = after_dose.grams
        self._stage = Stage.OVER
        weighed = weighed_amount(before, after_dose, self._density)
        found = proof(
            since(self.motion.counted(view), self._earlier),
            weighed,
            self._watch.loss,
            self._density,
            of_ml=self._of_ml,
            held=self._held,
            halted=bool(self.missing),
            held_at_rest=self._held_at_rest,
        )
        self._note(found)
        if not self.lost:
            self.weighed, self.after = weighed, weights
            if self._earlier is None:
                put_weighing(view, self.motion.dose_id, scale, weighed)
        self.motion.conclude(view, after(self._earlier, found.amount), self.missing)

    def _give_up(self, view: View, reason: str) -> None:
        """Write the result without a still weight, by the counts and what was watched."""
        self._stage = Stage.OVER
        if self.motion.under_way:
            self.motion.look(view)
        counted = self.motion.counted(view)
        part = DoseAmount(counted.ml - self._from_ml, counted.uncertainty_ml)
        found = watched_only(part, self._watch.loss, self._density, halted=bool(self.missing))
        self._note(found)
        earlier_ml = self._off_ml + (0.0 if self._earlier is None else self._earlier.uncertainty_ml)
        earlier = DoseAmount(self._from_ml, earlier_ml) if self._from_ml > 0.0 else None
        amount = after(earlier, found.amount)
        if self.motion.state is MotionState.MOVED:
            self.motion.conclude(view, amount, reason)
        else:
            self.motion.abandon(view, reason, amount)

    def _note(self, found: Proof) -> None:
        self.sure, self.teaches = found.sure, found.teaches
        self.unclear, self.lost = found.unclear, found.lost or self.lost
