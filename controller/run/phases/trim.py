"""Trim: judge the last accepted pH and, if it is not well inside the window, order one trim round.

Giving up is a trouble only outside the recipe's window; inside it the tank is merely less far from its edge.
"""

from __future__ import annotations

import math

from controller.measure.trim import (
    Add,
    GiveUp,
    TrimDecision,
    Wait,
    came,
    decide,
    learn,
    learn_wait,
    reading_doubt_ph,
)
from controller.measure.trim_history import lowered
from controller.plan.dose_caps import dose_cap_ml
from controller.plan.steps import AnyStep, Trim
from controller.plan.trim_round import trim_round, wait_round
from controller.record.events import Decision
from controller.run.phases.fresh import not_yet
from controller.run.phases.phase import Accepted, PlainPhase, Turn, View
from controller.run.situation import Cause, Trouble
from controller.settings.values import Input, Site


class TrimPhase(PlainPhase):
    """Learn from the round before, decide, and insert the next round if there is one."""

    def __init__(self, step: Trim) -> None:
        self._step = step

    def scan(self, view: View) -> Turn:
        """Decide at once; when the reading has grown old, measure once more first."""
        memory, reading, level_l = view.memory, view.memory.last_reading, view.readings.level_l
        if level_l is not None and level_l <= view.site.rig.tank.low_float_l:
            level_l = None
        wait = not_yet(view, level_l, self._step)
        if wait is not None:
            return wait
        if reading is None or level_l is None:
            missing = "level" if reading is not None else "pH after the last dose"
            return Turn(wake_s=view.now_s, trouble=Trouble(Cause.PROBE_DOUBTFUL, f"no reading of {missing}"))
        result = self._learn(view, reading, level_l)
        decision = self._decide(view, reading, level_l)
        self._record(view, reading, decision, result)
        if isinstance(decision, GiveUp) and not memory.plan.ph_low <= reading.ph <= memory.plan.ph_high:
            return Turn(wake_s=view.now_s, trouble=Trouble(Cause.TRIM_FAILED, decision.text))
        if not isinstance(decision, Add | Wait):
            return Turn(wake_s=view.now_s, done=True, note=decision.text)
        return Turn(
            wake_s=view.now_s, done=True, note=decision.did, insert=self._round(view, reading, decision)
        )

    def _learn(self, view: View, reading: Accepted, level_l: float) -> str:
        """Take in what the round before brought about, and say it."""
        memory, policy = view.memory, view.site.policy.trim
        if memory.trim_waits:
            memory.trim_waits = False
            memory.trim = learn_wait(memory.trim, reading.ph)
            return came(memory.trim, level_l)
        if memory.trim_asked is None:
            return _drifted(memory.readings) if memory.trim.trims else ""
        direction, before = memory.trim_asked
        memory.trim = learn(
            memory.trim,
            direction,
            added_ml=memory.trim_dosed_ml,
            tank_l=level_l,
            ph_before=before.ph,
            ph_after=reading.ph,
            doubt_ph=reading_doubt_ph(_u_ph(before, reading), policy),
        )
        memory.trim_asked, memory.trim_dosed_ml = None, 0.0
        return came(memory.trim, level_l)

    def _decide(self, view: View, reading: Accepted, level_l: float) -> TrimDecision:
        acid, base = _input(view.site, self._step.acid), _input(view.site, self._step.base)
        history = view.memory.history
        return decide(
            view.memory.trim,
            reading.ph,
            window=self._aims(view),
            tank_l=level_l,
            policy=view.site.policy.trim,
            acid=acid,
            base=base,
            acid_min_ml=_min_ml(view.site, acid),
            base_min_ml=_min_ml(view.site, base),
            remembered=history.usable(view.memory.readings[0].ec_us_cm),
            remembered_apart_k=history.apart_k(reading.temperature_c),
            acid_most_ml=_most_ml(view.site, acid),
            base_most_ml=_most_ml(view.site, base),
            acid_step_ml=_step_ml(view.site, acid),
            base_step_ml=_step_ml(view.site, base),
            reading_u_ph=_u_ph(reading),
        )

    def _aims(self, view: View) -> tuple[float, float]:
        """Give where pH shall go now: lower by the rebound that is expected, while it is yet to come."""
        step, rebound_ph = self._step, view.memory.history.rebound_ph
        if not step.before_rebound or rebound_ph is None:
            return step.ph_low, step.ph_high
        return lowered((step.ph_low, step.ph_high), view.memory.plan.ph_low, rebound_ph)

    def _round(self, view: View, reading: Accepted, decision: Add | Wait) -> tuple[AnyStep, ...]:
        """Give the steps that carry the decision out, and remember what was asked."""
        memory, step = view.memory, self._step
        if isinstance(decision, Wait):
            memory.trim_waits = True
            return wait_round(view.site, step)
        memory.trim_asked = (decision.direction, reading)
        return trim_round(
            view.site,
            decision.input.name,
            decision.ml,
            step.ph_low,
            step.ph_high,
            step.acid,
            step.base,
            before_rebound=step.before_rebound,
        )

    def _record(self, view: View, reading: Accepted, decision: TrimDecision, result: str) -> None:
        believed, did = (
            (decision.believed, decision.did)
            if isinstance(decision, Add | Wait)
            else (decision.text, "add nothing")
        )
        parts = [believed]
        if view.memory.trim.trims == 0:
            parts.append(view.memory.history.words(reading.temperature_c, view.memory.readings[0].ec_us_cm))
            parts.append(self._rebound_words(view))
        view.put(
            Decision(
                batch=view.memory.batch,
                number=view.number,
                believed="; ".join(part for part in parts if part),
                did=did,
                came=result,
            )
        )

    def _rebound_words(self, view: View) -> str:
        """Say why the aim is lower than the middle of the window; empty when it is not."""
        low, high = self._aims(view)
        history = view.memory.history
        if history.rebound_ph is None or high >= self._step.ph_high:
            return ""
        return (
            f"pH is expected to rise by {history.rebound_ph:.2f} as CO2 leaves, {history.rebound_source}: "
            f"until then trims aim lower, {low:.2f} to {high:.2f}"
        )


def _drifted(readings: list[Accepted]) -> str:
    """Say what pH did without a dose since the reading before."""
    if len(readings) < 2:
        return ""
    return f"without a dose pH went from {readings[-2].ph:.2f} to {readings[-1].ph:.2f}"


def _u_ph(*readings: Accepted) -> float | None:
    """Give the standard uncertainty of the least certain reading; None when one does not say."""
    doubts = [reading.doubt_ph for reading in readings]
    return max(doubts) if min(doubts) > 0.0 else None


def _input(site: Site, name: str | None) -> Input | None:
    return None if name is None else site.inputs[name]


def _min_ml(site: Site, liquid: Input | None) -> float:
    return 0.0 if liquid is None else site.rig.pumps[liquid.pump].min_dose_ml


def _step_ml(site: Site, liquid: Input | None) -> float:
    """Give one roller: whole rollers are what a pump repeats best, and a trim may choose its amount."""
    if liquid is None:
        return 0.0
    pump = site.rig.pumps[liquid.pump]
    return pump.counts_per_roller * pump.ml_per_count


def _most_ml(site: Site, liquid: Input | None) -> float:
    return math.inf if liquid is None else dose_cap_ml(site, site.rig.pumps[liquid.pump])
