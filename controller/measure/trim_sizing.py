"""How large one trim may be: every limit on it, and the words that say which one counted.

Whether there is a trim at all is decided in `trim.py`; what is known of the water comes from
`trim_knowledge.py`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from controller.measure.buffering import TELLING_ML_L, Direction
from controller.measure.trim_knowledge import Knowledge
from controller.measure.trim_words import Add, GiveUp, Obstacle, TrimState
from controller.settings.values import Input, TrimPolicy

# What the first dose of the policy claims: that crossing this much pH in front of the far edge takes at
# least that dose. With less room than that, less is claimed.
FIRST_DOSE_ROOM_PH = 0.5

# Of what it otherwise could, so much is given of what dissolves for hours: what lies in the tank goes
# on, and waiting does the rest (chosen on titrated waters, no source).
SLOW_SHARE = 0.75

# A trim may be at most this many times all that went the same way before it tonight.
GROWTH = 4.0


@dataclass(frozen=True, slots=True)
class Need:
    """One way of trimming this tank: from where, to where, with what, and what is known."""

    state: TrimState
    direction: Direction
    ph: float
    aim_ph: float
    far_ph: float
    tank_l: float
    policy: TrimPolicy
    known: Knowledge


@dataclass(frozen=True, slots=True)
class Limit:
    """An amount that must not be passed, in mL/L, and why."""

    ml_l: float
    why: str


@dataclass(frozen=True, slots=True)
class Metered:
    """What the pump can give: at least, at most, and what whole multiples of it does best (0: any amount)."""

    min_ml: float
    most_ml: float
    step_ml: float

    def nearest_ml(self, ml: float) -> float:
        """Give the largest amount up to `ml` that the pump does best; `ml` itself where none fits."""
        whole_ml = math.floor(ml / self.step_ml + 1e-6) * self.step_ml if self.step_ml > 0.0 else ml
        return whole_ml if whole_ml >= self.min_ml > 0.0 else ml


def sized(need: Need, trim_input: Input, metered: Metered) -> Add | GiveUp:
    """Size the trim: the smallest of its limits, raised to the pump's floor only where that is safe."""
    min_ml = metered.min_ml
    most = Limit(metered.most_ml / need.tank_l, "the most that one dose may be")
    believed_need_ml_l = need.known.believed_ml_l(need.ph, need.aim_ph)
    slow = SLOW_SHARE if trim_input.slow_dissolving else 1.0
    safe = _safe(need, slow)
    cap_left = Limit(
        need.policy.cap_ml_l - need.state.added_ml_l(need.direction), "what is left of the night's cap"
    )
    limits = [safe, cap_left, most]
    if need.state.added_ml_l(need.direction) > 0:
        growth_ml_l = GROWTH * need.state.added_ml_l(need.direction)
        limits.append(Limit(growth_ml_l, f"at most {GROWTH:g} times all that went before it"))
    if believed_need_ml_l is not None:
        share = need.policy.share * slow
        on = ", for it dissolves on" if trim_input.slow_dissolving else ""
        limits.append(Limit(share * believed_need_ml_l, f"{100.0 * share:.0f} % of that{on}"))
    chosen = min(limits, key=lambda limit: limit.ml_l)
    floor = Limit(max(min_ml / need.tank_l, TELLING_ML_L), "the smallest dose the pump may meter")
    if cap_left.ml_l < floor.ml_l:
        return GiveUp(
            Obstacle.CAP_REACHED,
            f"pH is {need.ph:.2f} and the night's cap of {need.policy.cap_ml_l:g} mL/L of"
            f" {trim_input.title} is used up",
            "check the strength of the trim input and the alkalinity of the water",
        )
    if chosen.ml_l < floor.ml_l:
        if safe.ml_l < floor.ml_l:
            return GiveUp(
                Obstacle.DOSE_TOO_COARSE,
                f"pH is {need.ph:.2f} and the smallest dose of {trim_input.title}, {min_ml:g} mL, could go"
                f" past the far edge (safe: {safe.ml_l * need.tank_l:.2g} mL)",
                "dilute the trim input or fit a finer pump",
            )
        chosen = floor
    # Per litre and back again may lose the last digit, and with it the pump's floor.
    ml = metered.nearest_ml(max(chosen.ml_l * need.tank_l, min_ml))
    return _add(need, trim_input, ml, chosen.why, believed_need_ml_l)


def _safe(need: Need, slow: float) -> Limit:
    """Give the amount in mL/L that stays inside the far edge, by tonight's answers, memory or the policy."""
    known = need.known
    least = slow * known.least_ml_l(need.ph, need.far_ph)
    limits = [
        Limit(least, f"more might pass pH {need.far_ph:.2f}, should the water's buffer run out early"),
        Limit(
            slow * known.recalled_ml_l(need.ph, need.far_ph),
            f"more might pass pH {need.far_ph:.2f}, should tonight's water be softer than the remembered",
        ),
    ]
    if not _claim_is_refuted(need):
        room_ph = max(0.0, abs(need.ph - need.far_ph) - known.doubt_ph)
        first_dose_ml_l = need.policy.first_dose_ml_l * min(1.0, room_ph / FIRST_DOSE_ROOM_PH)
        limits.append(Limit(first_dose_ml_l, "a small dose first, to see how pH answers"))
    return max(limits, key=lambda limit: limit.ml_l)


def _claim_is_refuted(need: Need) -> bool:
    """Say whether an answer that came near the far edge was steeper than the policy's first dose claims."""
    steepest = FIRST_DOSE_ROOM_PH / need.policy.first_dose_ml_l
    return any(
        abs(answer.ph_after - need.far_ph) <= FIRST_DOSE_ROOM_PH
        and answer.moved_ph + need.known.doubt_ph > steepest * answer.ml_l
        for answer in need.known.tonight
    )


def _add(need: Need, trim_input: Input, ml: float, why: str, believed_need_ml_l: float | None) -> Add:
    """Put the trim and its reasons into words."""
    if believed_need_ml_l is None:
        response = None
        believed = f"pH {need.ph:.2f}; how this water answers is not known yet"
    else:
        need_ml = believed_need_ml_l * need.tank_l
        response = (need.aim_ph - need.ph) / need_ml
        each = f"{response:+.4f} pH per mL"
        believed = f"pH {need.ph:.2f}; {need_ml:.1f} mL should bring it to {need.aim_ph:.2f}, {each}"
    did = f"add {ml:.1f} mL of {trim_input.title} ({why})"
    return Add(trim_input, need.direction, ml, response, believed, did)
