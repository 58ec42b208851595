"""Trimming pH: whether to add, what, how much, or to give up; and what each answer teaches.

Pure. A night's trims are a fold: `decide` from the state and a settled, stable reading, dose, mix, settle,
read, `learn`, `decide` again. The words of it are `trim_words.py`, how water takes up acid or base is
`buffering.py`; dosing, waiting and reading are the sequence's.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from controller.measure.buffering import TELLING_ML_L, Direction, Titration
from controller.measure.trim_knowledge import Knowledge, knowledge
from controller.measure.trim_words import Add, GiveUp, InWindow, Obstacle, TrimDecision, TrimState
from controller.settings.values import Input, TrimPolicy

__all__ = [
    "Add",
    "Direction",
    "GiveUp",
    "InWindow",
    "Obstacle",
    "Titration",
    "TrimDecision",
    "TrimState",
    "came",
    "decide",
    "learn",
    "reading_doubt_ph",
]

# What the first dose of the policy claims: that crossing this much pH in front of the far edge takes at
# least that dose. With less room than that, less is claimed.
FIRST_DOSE_ROOM_PH = 0.5

# A trim may be at most this many times all that went the same way before it tonight.
GROWTH = 4.0

# An answer within the doubt of a reading is no answer. After this many trims without any, or after one
# that should have moved pH by so many doubts, the probe, the pump or the bottle is not what it seems.
SILENT_TRIMS = 3
SILENT_DOUBTS = 10.0

# A reading is taken to be right within so many standard uncertainties, but never better than this against the
# one before it: in between the tank was stirred, and lost a little of its CO2 and warmth (assumed).
READING_COVERAGE = 2.0
LEAST_DOUBT_PH = 0.01

# pH that moves the wrong way by more than this many doubts: wrong bottle, wrong probe, or another reaction.
WRONG_WAY_DOUBTS = 5.0

# A dose-free move of pH larger than this means other water; the rebound of a good night stays below it
# (chosen on simulated nights, no source).
DRIFT_PH = 0.20


@dataclass(frozen=True, slots=True)
class _Need:
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
class _Limit:
    """An amount that must not be passed, in mL/L, and why."""

    ml_l: float
    why: str


def decide(
    state: TrimState,
    ph: float,
    *,
    window: tuple[float, float],
    tank_l: float,
    policy: TrimPolicy,
    acid: Input | None,
    base: Input | None,
    acid_min_ml: float,
    base_min_ml: float,
    remembered: Sequence[Titration] = (),
    acid_most_ml: float = math.inf,
    base_most_ml: float = math.inf,
    reading_u_ph: float | None = None,
) -> TrimDecision:
    """Decide the next act of trimming pH from a settled and stable reading.

    `window` is the (low, high) pH aimed for, which may lie inside the recipe's; `tank_l` what the tank holds
    now, above 0; `*_min_ml` the smallest dose the pump of that trim input may meter, `*_most_ml` the largest
    it may give at once; `remembered` earlier answers of the same recipe, water and trim input
    (`TrimState.memory`), or a jar test. `reading_u_ph` is the standard uncertainty of this reading; where it
    is not given, `policy.stable_ph` counts as the doubt of a reading. ValueError on an empty window or tank.

    Sized so that pH stays inside the far edge even if the whole answer so far came from the credible
    buffer that runs out soonest. Only the very first dose rests on `policy.first_dose_ml_l` or memory alone.
    """
    low, high = window
    if not (low < high and tank_l > 0):
        raise ValueError(f"no window or no tank: pH {low} to {high}, {tank_l} L")
    if not (math.isfinite(ph) and 0.0 <= ph <= 14.0):
        return GiveUp(Obstacle.NO_READING, f"the reading is not a pH: {ph}", "check the probe and its cable")
    if low <= ph <= high:
        return InWindow(f"pH {ph:.2f} is where trims aim, {low:g} to {high:g}")
    direction = Direction.DOWN if ph > high else Direction.UP
    need = _Need(
        state=state,
        direction=direction,
        ph=ph,
        aim_ph=(low + high) / 2.0,
        far_ph=low if direction is Direction.DOWN else high,
        tank_l=tank_l,
        policy=policy,
        known=_known(state, remembered, direction, ph, reading_doubt_ph(reading_u_ph, policy)),
    )
    down = direction is Direction.DOWN
    trim_input, min_ml = (acid, acid_min_ml) if down else (base, base_min_ml)
    most = _Limit((acid_most_ml if down else base_most_ml) / tank_l, "the most that one dose may be")
    if trim_input is None:
        return _no_trim_input(need)
    return _stop_reason(need) or _sized(need, trim_input, min_ml, most)


def _known(
    state: TrimState, remembered: Sequence[Titration], direction: Direction, ph: float, doubt_ph: float
) -> Knowledge:
    """Weigh what was learned; where pH has moved far without a dose, what came before that counts no more.

    CO2 that has left takes most of the buffering with it: the old answers would promise far too much.
    """
    given_ml_l = state.added_ml_l(direction)
    recent: list[Titration] = []
    next_ph = ph
    for answer in reversed(state.answers):
        if abs(next_ph - answer.ph_after) > DRIFT_PH:
            return knowledge(tuple(reversed(recent)), (), direction, doubt_ph, given_ml_l)
        recent.append(answer)
        doubt_ph = max(doubt_ph, answer.doubt_ph)
        next_ph = answer.ph_before
    return knowledge(state.answers, remembered, direction, doubt_ph, given_ml_l)


def reading_doubt_ph(reading_u_ph: float | None, policy: TrimPolicy) -> float:
    """Give how far a reading may be off against its neighbours: two standard uncertainties, or the policy's.

    Never less than LEAST_DOUBT_PH. What all readings of a night have wrong together (the calibration) is not
    in it: for that the window aimed for lies inside the recipe's. k = 2 covers 95 % (JCGM 100:2008, 6.2).
    """
    if reading_u_ph is None:
        return policy.stable_ph
    return max(READING_COVERAGE * reading_u_ph, LEAST_DOUBT_PH)


def learn(
    state: TrimState,
    direction: Direction,
    *,
    added_ml: float,
    tank_l: float,
    ph_before: float,
    ph_after: float,
    doubt_ph: float = 0.0,
) -> TrimState:
    """Give the state after one trim and its answer. `added_ml` is what the record says was dosed.

    `doubt_ph` is how far each of the two readings may be off (`reading_doubt_ph`). ValueError on values that
    are not finite, a negative amount or an empty tank.
    """
    if not tank_l > 0:
        raise ValueError(f"no tank: {tank_l} L")
    given_ml_l = state.added_ml_l(direction)
    answer = Titration(direction, added_ml / tank_l, ph_before, ph_after, given_ml_l, doubt_ph)
    return TrimState((*state.answers, answer))


def came(state: TrimState, tank_l: float) -> str:
    """Say for the record what came of the last trim; empty before the first."""
    if not state.answers:
        return ""
    last = state.answers[-1]
    ml = last.ml_l * tank_l
    each = f", {(last.ph_after - last.ph_before) / ml:+.4f} pH per mL" if ml > 0 else ""
    return f"{ml:.1f} mL took pH from {last.ph_before:.2f} to {last.ph_after:.2f}{each}"


def _no_trim_input(need: _Need) -> GiveUp:
    """Give up because the recipe names nothing that moves pH this way."""
    side, what = ("above", "acid") if need.direction is Direction.DOWN else ("below", "base")
    edge_ph = 2.0 * need.aim_ph - need.far_ph
    return GiveUp(
        Obstacle.NO_TRIM_INPUT,
        f"pH {need.ph:.2f} is {side} {edge_ph:g} and the recipe names no {what} to trim with",
        f"name one in the recipe (`trim.{what}` in recipes), or trim the tank by hand",
    )


def _stop_reason(need: _Need) -> GiveUp | None:
    """Give up where going on would break a limit or act on a doubtful answer."""
    state, policy = need.state, need.policy
    if state.trims >= policy.max_trims:
        return GiveUp(
            Obstacle.TOO_MANY_TRIMS,
            f"pH is {need.ph:.2f} after {state.trims} trims, as many as `trim.max_trims` in site.toml allows",
            "look at the answers in the record; trim the tank by hand",
        )
    turned = bool(state.answers) and state.answers[-1].direction is not need.direction
    if state.turns + turned > 1:
        return GiveUp(
            Obstacle.TOO_MANY_TURNS,
            f"pH {need.ph:.2f} would need a second change of direction",
            "check the strength of the trim inputs and the probe; trim the tank by hand",
        )
    return _doubtful_answer(need)


def _doubtful_answer(need: _Need) -> GiveUp | None:
    """Give up when what was dosed did not do what a trim input does."""
    answers = need.known.tonight
    if not answers:
        return None
    doubt_ph, last = need.known.doubt_ph, answers[-1]
    if last.moved_ph < -WRONG_WAY_DOUBTS * doubt_ph:
        return GiveUp(
            Obstacle.WRONG_WAY,
            f"pH went from {last.ph_before:.2f} to {last.ph_after:.2f} after a dose that should move it"
            f" {need.direction.value}",
            "check that the bottle holds what its label says, and the probe",
        )
    expected_ph = 0.0
    if len(answers) > 1 and answers[-2].moved_ph > doubt_ph:
        expected_ph = answers[-2].moved_ph / answers[-2].ml_l * last.ml_l
    silent_so_far = len(answers) >= SILENT_TRIMS and sum(a.moved_ph for a in answers) <= doubt_ph
    silent_now = last.moved_ph <= doubt_ph and expected_ph >= SILENT_DOUBTS * doubt_ph
    if silent_so_far or silent_now:
        return GiveUp(
            Obstacle.NO_ANSWER,
            f"pH does not answer: still {need.ph:.2f} after {len(answers)} trims",
            "check the probe, the bottle, the pump's tube and the stir pump",
        )
    return None


def _sized(need: _Need, trim_input: Input, min_ml: float, most: _Limit) -> Add | GiveUp:
    """Size the trim: the smallest of its limits, raised to the pump's floor only where that is safe."""
    believed_need_ml_l = need.known.believed_ml_l(need.ph, need.aim_ph)
    safe = _safe(need)
    cap_left = _Limit(
        need.policy.cap_ml_l - need.state.added_ml_l(need.direction), "what is left of the night's cap"
    )
    limits = [safe, cap_left, most]
    if need.state.added_ml_l(need.direction) > 0:
        growth_ml_l = GROWTH * need.state.added_ml_l(need.direction)
        limits.append(_Limit(growth_ml_l, f"{GROWTH:g} times all that went before"))
    if believed_need_ml_l is not None:
        share_ml_l = need.policy.share * believed_need_ml_l
        limits.append(_Limit(share_ml_l, f"{need.policy.share:.0%} of the believed need"))
    chosen = min(limits, key=lambda limit: limit.ml_l)
    floor = _Limit(max(min_ml / need.tank_l, TELLING_ML_L), "the smallest dose the pump may meter")
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
    return _add(need, trim_input, chosen, believed_need_ml_l, min_ml)


def _safe(need: _Need) -> _Limit:
    """Give the amount in mL/L that stays inside the far edge, by tonight's answers, memory or the policy."""
    known = need.known
    least = known.least_ml_l(need.ph, need.far_ph)
    limits = [
        _Limit(least, "what is sure to stay in the window"),
        _Limit(known.recalled_ml_l(need.ph, need.far_ph), "what stays in the window by cautious memory"),
    ]
    if not _claim_is_refuted(need):
        room_ph = max(0.0, abs(need.ph - need.far_ph) - known.doubt_ph)
        first_dose_ml_l = need.policy.first_dose_ml_l * min(1.0, room_ph / FIRST_DOSE_ROOM_PH)
        limits.append(_Limit(first_dose_ml_l, "the first dose"))
    return max(limits, key=lambda limit: limit.ml_l)


def _claim_is_refuted(need: _Need) -> bool:
    """Say whether an answer that came near the far edge was steeper than the policy's first dose claims."""
    steepest = FIRST_DOSE_ROOM_PH / need.policy.first_dose_ml_l
    return any(
        abs(answer.ph_after - need.far_ph) <= FIRST_DOSE_ROOM_PH
        and answer.moved_ph + need.known.doubt_ph > steepest * answer.ml_l
        for answer in need.known.tonight
    )


def _add(
    need: _Need, trim_input: Input, chosen: _Limit, believed_need_ml_l: float | None, min_ml: float
) -> Add:
    """Put the trim and its reasons into words."""
    # Per litre and back again may lose the last digit, and with it the pump's floor.
    ml = max(chosen.ml_l * need.tank_l, min_ml)
    if believed_need_ml_l is None:
        response = None
        believed = f"pH {need.ph:.2f}; the response is not known yet"
    else:
        need_ml = believed_need_ml_l * need.tank_l
        response = (need.aim_ph - need.ph) / need_ml
        believed = f"pH {need.ph:.2f}; {need_ml:.1f} mL to pH {need.aim_ph:.2f}, {response:+.4f} pH per mL"
    did = f"add {ml:.1f} mL of {trim_input.title} ({chosen.why})"
    return Add(trim_input, need.direction, ml, response, believed, did)
