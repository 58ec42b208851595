"""Dose: move one input's amount into the stirred tank, air off, its bottle kept agitated between weighings.

How one motion is weighed is `weighed_motion.py`; here is what the amount means: enough, a top-up, or a hold.
"""

from __future__ import annotations

from collections import deque
from dataclasses import replace

from controller.measure.weighing import WeighedAmount, beyond_doubt
from controller.plan.steps import Dose, Purpose
from controller.record.events import Basis
from controller.run.allowance import why_not_begin
from controller.run.dose_verdict import Next, judge
from controller.run.metered import drift_told, learn_tube, once, refused_tube
from controller.run.motion import CountedMotion, MotionState
from controller.run.phases.phase import READING_KEEPS_S, Turn, View
from controller.run.request import Request
from controller.run.situation import Cause, Trouble
from controller.run.two_proofs import SMALL_SHARE, metered_evenly, unclear_told
from controller.run.weighed_motion import WeighedMotion
from controller.run.weigher import scale_of
from controller.settings.values import Pump

TOO_LATE = "held too long: the pH that it was sized by is old"


class DosePhase:
    """Carry out one amount: one motion, topped up once where a scale shows that it is short.

    An unproven motion is told once and left to a person; so is a dose that the scale shows to be wrong. Of
    a dose that did not leave its bottle, what is missing is moved after a person has resumed, as a motion
    of its own; of one that stays short after its top-up, or of a trim, nothing more is moved.
    """

    def __init__(self, step: Dose) -> None:
        self._step = step
        agitators = frozenset({step.agitator}) if step.agitator else frozenset[str]()
        self._stirring = Request(stir=True, agitators=agitators)
        self._now: WeighedMotion | None = None
        self._rest_ml = step.target_ml
        self._ml = self._doubt_ml = 0.0
        self._bases: set[Basis] = set()
        self._topped_up = False
        self._untold: deque[Trouble] = deque()
        self._lessons: list[tuple[int, WeighedAmount]] = []
        self._done = self._told_missing = False
        self._agitate_until_s = 0.0
        self._held_from_s: float | None = None

    def scan(self, view: View) -> Turn:
        """Ask for stir, agitator and the motion; tell what was seen, one thing a scan."""
        if view.elapsed_s < self._agitate_until_s:
            left_s = self._agitate_until_s - view.elapsed_s
            return Turn(self._stirring, wake_s=view.now_s + max(0.05, min(5.0, left_s)))
        if self._now is None and not self._done:
            self._begin(view)
        if self._untold:
            return Turn(self._stirring, wake_s=view.now_s, trouble=self._untold.popleft())
        if self._now is None:
            return self._end(view)
        command = self._now.scan(view)
        if self._now.motion.refused is not None:
            return Turn(wake_s=view.now_s, trouble=self._now.motion.refused)
        if self._now.changed is not None:
            changed, self._now.changed = self._now.changed, None
            return Turn(Request(stir=True), wake_s=view.now_s, trouble=changed)
        if self._now.over:
            self._judge(view, self._now)
            return Turn(self._stirring, wake_s=view.now_s)
        asked = Request(stir=True) if self._now.still else replace(self._stirring, dose=command)
        return Turn(asked, wake_s=self._now.wake_s(view.now_s))

    def suspend(self, view: View) -> Trouble | None:
        """Write and tell what the board has forgotten, or the scale has seen."""
        self._held_from_s = view.now_s
        if self._now is None:
            return None
        self._now.suspend(view)
        if self._now.missing or self._now.unclear:
            self._told_missing = True
            return self._unclear(self._now) if self._now.unclear else self._missing(view, self._now)
        return self._now.motion.trouble()

    def resume(self, view: View) -> None:
        """Go on with the same dose id, once a bottle that settles has been agitated again.

        After a hold that outlasts a pH reading the rest of a trim is not given: the next look decides anew.
        """
        held_s = 0.0 if self._held_from_s is None else view.now_s - self._held_from_s
        self._held_from_s = None
        if self._step.purpose is Purpose.TRIM and held_s > READING_KEEPS_S:
            self._end_trim(view)
        elif self._now is not None:
            self._now.resume(view)
        if self._step.agitator is not None:
            self._agitate_until_s = view.elapsed_s + view.site.inputs[self._step.input].agitate_s

    def abandon(self, view: View) -> None:
        """Record how far the motion came."""
        if self._now is not None:
            self._now.abandon(view)

    def _begin(self, view: View, topped_up: WeighedMotion | None = None) -> None:
        """Make the next motion, or a top-up, unless the pump or the age of the reading is against it."""
        step, pump = self._step, view.site.rig.pumps[self._step.pump]
        if self._reading_too_old(view):
            self._done = True
            return
        refused = None if self._bases else refused_tube(view, pump)
        if refused is not None:
            self._untold.append(refused)
            return
        scale = scale_of(view, pump)
        motion = CountedMotion(
            pump, step.input, self._rest_ml, step.rate_ml_min, step.purpose, weighed=scale is not None
        )
        before = None
        if topped_up is not None:
            before = topped_up.after
            motion.meters_as = metered_evenly(pump, topped_up.motion.count_seen, topped_up.weighed)
        self._now = WeighedMotion(
            motion, scale, view.site.inputs[step.input].density_kg_l, before, step.target_ml
        )

    def _end_trim(self, view: View) -> None:
        """Give nothing more of a trim; what has moved is still weighed."""
        if self._now is None or self._now.motion.state is MotionState.NEW:
            self._now, self._done = None, True
        elif self._now.motion.under_way:
            self._now.abandon(view, TOO_LATE)
        else:
            self._now.resume(view)

    def _reading_too_old(self, view: View) -> bool:
        """Tell whether a trim that has not begun was held up until its reading proves nothing any more."""
        if self._step.purpose is not Purpose.TRIM or not view.memory.readings or self._bases:
            return False
        agitate_s = view.site.inputs[self._step.input].agitate_s
        return view.now_s - view.memory.readings[-1].at_s > READING_KEEPS_S + agitate_s

    def _judge(self, view: View, now: WeighedMotion) -> None:
        """Take in a motion whose result is on disk, and say what follows from it."""
        motion, self._now = now.motion, None
        self._ml += motion.amount.ml
        self._doubt_ml += (
            now.weighed.uncertainty_ml if now.weighed and now.sure else motion.amount.uncertainty_ml
        )
        self._bases.add(motion.amount.basis)
        self._tell_lost(view, now)
        self._done = True
        unproven = motion.trouble()
        if unproven is not None:
            self._untold.append(unproven)
        elif now.missing or now.unclear:
            trouble = self._unclear(now) if now.unclear else self._missing(view, now)
            if not self._told_missing:
                self._untold.append(trouble)
            self._told_missing = False
        elif now.weighed is not None and self._rest_ml > 0.0:
            self._judge_weight(view, now)

    def _tell_lost(self, view: View, now: WeighedMotion) -> None:
        """Tell, once a night, of a scale that could not be used; keep what may be learnt."""
        pump = now.motion.pump
        if now.lost:
            text = f"scale {pump.scale} at the dose of {self._step.input}: {now.lost}"
            told = once(view, Trouble(Cause.SCALE_LOST, text), pump.scale or "")
            if told is not None:
                self._untold.append(told)
        elif now.weighed is not None and now.teaches and now.motion.proven:
            self._lessons.append((now.motion.count_seen, now.weighed))

    def _learn(self, view: View, pump: Pump) -> None:
        """Take in what the weighings of a dose that came right say of the tube, and tell of a drift."""
        for counts, weighed in self._lessons:
            learn_tube(view, pump, counts, weighed.ml, weighed.uncertainty_ml)
        told = drift_told(view, pump)
        if self._lessons and told is not None:
            self._untold.append(told)

    def _judge_weight(self, view: View, now: WeighedMotion) -> None:
        step = self._step
        verdict = judge(
            view.site.policy.stock, step.purpose, step.target_ml, self._ml, self._doubt_ml, self._topped_up
        )
        self._rest_ml = max(step.target_ml - self._ml, 0.0)
        unsure = verdict in (Next.TOP_UP, Next.SHORT) and not now.sure
        little = self._rest_ml <= SMALL_SHARE * step.target_ml
        if unsure and (little or not beyond_doubt(self._rest_ml, self._doubt_ml)):
            verdict = Next.ENOUGH
        if verdict is Next.ENOUGH:
            self._learn(view, now.motion.pump)
            return
        if verdict is Next.EXCESS:
            sludge = "; or its bottle was not agitated, and gave sludge" if step.agitator else ""
            self._untold.append(Trouble(Cause.DOSE_EXCESS, f"{self._amounts()}{sludge}"))
        elif verdict is Next.MISSING:
            self._untold.append(self._missing(view, now))
        elif verdict is Next.TOP_UP and self._may_top_up(view, now):
            self._topped_up, self._done = True, False
            self._begin(view, now)
        else:
            self._untold.append(Trouble(Cause.DOSE_MISSING, f"{self._amounts()}; resume takes it as it is"))

    def _may_top_up(self, view: View, now: WeighedMotion) -> bool:
        """Tell whether the pump can meter what is missing, within what bottle and caps allow tonight."""
        pump = now.motion.pump
        by = metered_evenly(pump, now.motion.count_seen, now.weighed)
        if by is None or not now.sure or self._rest_ml < pump.min_dose_ml:
            return False
        return why_not_begin(view, pump, self._step.input, self._rest_ml, metered_by=by) is None

    def _missing(self, view: View, now: WeighedMotion) -> Trouble:
        """Tell a dose that did not come; of an addition, what is missing is moved after the resume."""
        seen = now.missing or self._amounts()
        ml = self._ml if self._now is None else self._ml + now.motion.amount.ml
        self._rest_ml = max(self._step.target_ml - ml, 0.0)
        pump = now.motion.pump
        goes_on = self._step.purpose is Purpose.ADDITION and self._rest_ml >= pump.min_dose_ml
        self._done = not goes_on
        view.memory.refilled.add(self._step.input)
        then = f"resume moves the missing {self._rest_ml:.0f} mL" if goes_on else "resume takes it as it is"
        return Trouble(
            Cause.DOSE_MISSING,
            f"{self._step.input}: {seen}. Put it right and prime its tube into a cup; {then}",
        )

    def _unclear(self, now: WeighedMotion) -> Trouble:
        """Tell both amounts of a motion of which nobody can say which is right; nothing more is moved."""
        self._done = True
        return unclear_told(
            self._step.input, now.unclear, now.motion.counted_ml, now.motion.amount, now.weighed
        )

    def _amounts(self) -> str:
        return (
            f"{self._ml:.1f} ± {self._doubt_ml:.1f} mL of {self._step.input} left the bottle by weight, "
            f"{self._step.target_ml:.1f} mL were wanted"
        )

    def _end(self, view: View) -> Turn:
        step, memory = self._step, view.memory
        if step.purpose is Purpose.TRIM:
            memory.trim_dosed_ml = self._ml
            if self._ml <= 0.0:
                memory.trim_asked = None
        by = " and ".join(sorted(basis.value for basis in self._bases)) or TOO_LATE
        note = f"{self._ml:.1f} mL of {step.target_ml:.1f} mL, {by}"
        tube = memory.tubes.get(step.pump)
        if tube is not None and tube.doses:
            note = f"{note}; tube {tube.drift_share * 100:+.1f} % off its calibration"
        return Turn(self._stirring, wake_s=view.now_s, done=True, note=note)
