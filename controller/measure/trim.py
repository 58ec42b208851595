"""Trimming pH: whether to add, what, how much, or to give up; and what each answer teaches.

Pure. A night's trims are a fold: `decide` from the state and a settled, stable reading, dose, mix, settle,
read, `learn`, `decide` again. The words of it are `trim_words.py`, how water takes up acid or base is
`buffering.py`; dosing, waiting and reading are the sequence's.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from controller.measure.buffering import Direction, Titration
from controller.measure.trim_knowledge import NOTHING, Knowledge, Remembered, knowledge
from controller.measure.trim_sizing import Metered, Need, sized
from controller.measure.trim_stops import no_trim_input, slow_wait, stop_reason
from controller.measure.trim_words import Add, GiveUp, InWindow, Obstacle, TrimDecision, TrimState, Wait
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
    "Wait",
    "came",
    "decide",
    "learn",
    "learn_wait",
    "reading_doubt_ph",
]

# A reading is taken to be right within so many standard uncertainties, but never better than this against the
# one before it: in between the tank was stirred, and lost a little of its CO2 and warmth (assumed).
READING_COVERAGE = 2.0
LEAST_DOUBT_PH = 0.01

# A dose-free move of pH larger than this means other water; the rebound of a good night stays below it
# (chosen on simulated nights, no source).
DRIFT_PH = 0.20


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
    remembered_apart_k: float = 0.0,
    acid_most_ml: float = math.inf,
    base_most_ml: float = math.inf,
    acid_step_ml: float = 0.0,
    base_step_ml: float = 0.0,
    reading_u_ph: float | None = None,
) -> TrimDecision:
    """Decide the next act of trimming pH from a settled and stable reading.

    `window` is the (low, high) pH aimed for, which may lie inside the recipe's; `tank_l` what the tank holds
    now, above 0; `*_min_ml` the smallest dose the pump of that trim input may meter, `*_most_ml` the largest
    it may give at once, `*_step_ml` what it meters best in whole multiples of (a roller). `remembered` are
    earlier answers of the same recipe, water and trim input (`TrimState.memory`), or a jar test, in water
    `remembered_apart_k` warmer or cooler. `reading_u_ph` is the standard uncertainty of this reading; where
    it is not given, `policy.stable_ph` counts as its doubt. ValueError on an empty window or tank.

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
    past = Remembered(tuple(remembered), remembered_apart_k)
    need = Need(
        state=state,
        direction=direction,
        ph=ph,
        aim_ph=(low + high) / 2.0,
        far_ph=low if direction is Direction.DOWN else high,
        tank_l=tank_l,
        policy=policy,
        known=_known(state, past, direction, ph, reading_doubt_ph(reading_u_ph, policy)),
    )
    down = direction is Direction.DOWN
    trim_input = acid if down else base
    metered = (
        Metered(acid_min_ml, acid_most_ml, acid_step_ml)
        if down
        else Metered(base_min_ml, base_most_ml, base_step_ml)
    )
    if trim_input is None:
        return no_trim_input(need)
    wait = slow_wait(need, trim_input, low if direction is Direction.UP else high)
    return stop_reason(need) or wait or sized(need, trim_input, metered)


def _known(state: TrimState, past: Remembered, direction: Direction, ph: float, doubt_ph: float) -> Knowledge:
    """Weigh what was learned; where pH has moved far without a dose, what came before that counts no more.

    CO2 that has left takes most of the buffering with it: the old answers would promise far too much.
    """
    given_ml_l = state.added_ml_l(direction)
    recent: list[Titration] = []
    next_ph = ph
    for answer in reversed(state.answers):
        if abs(next_ph - answer.ph_after) > DRIFT_PH:
            return knowledge(tuple(reversed(recent)), NOTHING, direction, doubt_ph, given_ml_l)
        recent.append(answer)
        doubt_ph = max(doubt_ph, answer.doubt_ph)
        next_ph = answer.ph_before
    return knowledge(state.answers, past, direction, doubt_ph, given_ml_l)


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
    return TrimState((*state.answers, answer), state.waits)


def learn_wait(state: TrimState, ph_after: float) -> TrimState:
    """Give the state after a wait without a dose: what pH did in it belongs to the last trim's answer.

    ValueError before the first trim.
    """
    if not state.answers:
        raise ValueError("a wait after no trim")
    last = state.answers[-1]
    answers = (*state.answers[:-1], replace(last, ph_after=ph_after))
    went_ph = (ph_after - last.ph_after) * last.direction.sign
    return TrimState(answers, state.waits + 1, went_ph, state.waits_since + 1)


def came(state: TrimState, tank_l: float) -> str:
    """Say for the record what came of the last trim; empty before the first."""
    if not state.answers:
        return ""
    last = state.answers[-1]
    ml = last.ml_l * tank_l
    each = f", {(last.ph_after - last.ph_before) / ml:+.4f} pH per mL" if ml > 0 else ""
    waits = f" and {_counted(state.waits_since, 'wait')}" if state.waits_since else ""
    return f"{ml:.1f} mL{waits} took pH from {last.ph_before:.2f} to {last.ph_after:.2f}{each}"


def _counted(number: int, thing: str) -> str:
    return f"{number} {thing}" if number == 1 else f"{number} {thing}s"
