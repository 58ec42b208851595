"""Why no trim is dosed now: a limit, an answer that cannot be believed, or a slow base that is still at work.

How large a trim is otherwise is `trim_sizing.py`; in which order all this is asked, `trim.py`.
"""

from __future__ import annotations

from controller.measure.buffering import Direction
from controller.measure.trim_sizing import Need
from controller.measure.trim_words import GiveUp, Obstacle, Wait
from controller.settings.values import Input

# An answer within the doubt of a reading is no answer. After this many trims without any, or after one
# that should have moved pH by so many doubts, the probe, the pump or the bottle is not what it seems.
SILENT_TRIMS = 3
SILENT_DOUBTS = 10.0

# A slow-dissolving trim input is waited for, at most so often a night, and only while so many waits like
# the last one would reach the window, or while one wait covers so much of the window that more would rush
# through it (chosen on titrated waters, no source).
MOST_WAITS = 12
WAITS_AHEAD = 2.0
TOO_FAST_SHARE = 0.6

# pH that moves the wrong way by more than this many doubts: wrong bottle, wrong probe, or another reaction.
WRONG_WAY_DOUBTS = 5.0


def no_trim_input(need: Need) -> GiveUp:
    """Give up because the recipe names nothing that moves pH this way."""
    side, what = ("above", "acid") if need.direction is Direction.DOWN else ("below", "base")
    edge_ph = 2.0 * need.aim_ph - need.far_ph
    return GiveUp(
        Obstacle.NO_TRIM_INPUT,
        f"pH {need.ph:.2f} is {side} {edge_ph:g} and the recipe names no {what} to trim with",
        f"name one in the recipe (`trim.{what}` in recipes), or trim the tank by hand",
    )


def slow_wait(need: Need, trim_input: Input, edge_ph: float) -> Wait | None:
    """Wait where what was dosed may reach the near edge by itself, because it dissolves slowly.

    Told by how far pH went in the last look: after a dose, or after a wait.
    """
    state = need.state
    if not trim_input.slow_dissolving or not state.answers or state.waits >= MOST_WAITS:
        return None
    last = state.answers[-1]
    if last.direction is not need.direction:
        return None
    left_ph = (edge_ph - need.ph) * need.direction.sign
    per_wait_ph = last.moved_ph if state.waited_ph is None else state.waited_ph
    too_fast = per_wait_ph > TOO_FAST_SHARE * abs(need.far_ph - edge_ph)
    if per_wait_ph <= need.known.doubt_ph or (left_ph > WAITS_AHEAD * per_wait_ph and not too_fast):
        return None
    return Wait(
        f"pH {need.ph:.2f}, {left_ph:.2f} from {edge_ph:g}; {trim_input.title} dissolves slowly, and"
        f" what is in the tank may do the rest",
        "stir longer and look again",
    )


def stop_reason(need: Need) -> GiveUp | None:
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


def _doubtful_answer(need: Need) -> GiveUp | None:
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
