"""Trim: judge the last accepted pH and, if it is not well inside the window, order one trim round.

Giving up is a trouble only outside the recipe's window; inside it the tank is merely less far from its edge.
"""

from __future__ import annotations

import math

from controller.measure.trim import Add, GiveUp, TrimDecision, came, decide, learn
from controller.plan.dose_caps import dose_cap_ml
from controller.plan.steps import Trim
from controller.plan.trim_round import trim_round
from controller.record.events import Decision
from controller.run.phases.fresh import not_yet
from controller.run.phases.phase import Memory, PlainPhase, Turn, View
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
        self._learn(memory, reading.ph, level_l)
        decision = self._decide(view, reading.ph, level_l)
        self._record(view, decision, level_l)
        if isinstance(decision, GiveUp) and not memory.plan.ph_low <= reading.ph <= memory.plan.ph_high:
            return Turn(wake_s=view.now_s, trouble=Trouble(Cause.TRIM_FAILED, decision.text))
        if not isinstance(decision, Add):
            return Turn(wake_s=view.now_s, done=True, note=decision.text)
        memory.trim_asked = (decision.direction, reading.ph)
        step = self._step
        insert = trim_round(
            view.site, decision.input.name, decision.ml, step.ph_low, step.ph_high, step.acid, step.base
        )
        return Turn(wake_s=view.now_s, done=True, note=decision.did, insert=insert)

    def _learn(self, memory: Memory, ph: float, level_l: float) -> None:
        """Take in what the round before brought about."""
        if memory.trim_asked is None:
            return
        direction, ph_before = memory.trim_asked
        memory.trim = learn(
            memory.trim,
            direction,
            added_ml=memory.trim_dosed_ml,
            tank_l=level_l,
            ph_before=ph_before,
            ph_after=ph,
        )
        memory.trim_asked, memory.trim_dosed_ml = None, 0.0

    def _decide(self, view: View, ph: float, level_l: float) -> TrimDecision:
        acid, base = _input(view.site, self._step.acid), _input(view.site, self._step.base)
        return decide(
            view.memory.trim,
            ph,
            window=(self._step.ph_low, self._step.ph_high),
            tank_l=level_l,
            policy=view.site.policy.trim,
            acid=acid,
            base=base,
            acid_min_ml=_min_ml(view.site, acid),
            base_min_ml=_min_ml(view.site, base),
            remembered=view.memory.remembered,
            acid_most_ml=_most_ml(view.site, acid),
            base_most_ml=_most_ml(view.site, base),
        )

    def _record(self, view: View, decision: TrimDecision, level_l: float) -> None:
        believed, did = (
            (decision.believed, decision.did) if isinstance(decision, Add) else (decision.text, "add nothing")
        )
        view.put(
            Decision(
                batch=view.memory.batch,
                number=view.number,
                believed=believed,
                did=did,
                came=came(view.memory.trim, level_l),
            )
        )


def _input(site: Site, name: str | None) -> Input | None:
    return None if name is None else site.inputs[name]


def _min_ml(site: Site, liquid: Input | None) -> float:
    return 0.0 if liquid is None else site.rig.pumps[liquid.pump].min_dose_ml


def _most_ml(site: Site, liquid: Input | None) -> float:
    return math.inf if liquid is None else dose_cap_ml(site, site.rig.pumps[liquid.pump])
