"""What the lamp and the sounder tell a person: one signal, its flashing, its sound. The time is passed in.

One lamp has no colours, so the rhythm tells. Flashing rates lie in the two bands of IEC 60073 (from memory:
slow 0.4 to 0.8 Hz, normal 1.4 to 2.8 Hz, the faster for what is more urgent). No pins and no run live here.
"""

from __future__ import annotations

from enum import Enum

SLOW_HZ = 0.5
NORMAL_HZ = 2.0
# Lit, with one short wink: no flashing in the sense of IEC 60073, seen from afar as "on".
WINK_EVERY_S = 4.0
WINK_S = 0.4
# Short bursts that end by themselves, so that nobody cuts the wire (common practice, no source).
SOUNDER_EVERY_S = 2.0
SOUNDER_ON_S = 0.5
SOUNDER_ENDS_S = 300.0


class Signal(Enum):
    """What a person at the rig should know."""

    IDLE = "nothing is under way"
    WORKING = "the batch is under way"
    FIT_TO_FEED = "the tank is fit to feed"
    WAITING = "the rig waits for a person"
    ALARM = "something is wrong"


# ISA-88 (IEC 61512-1) states, by their words.
_OF_STATE = {
    "idle": Signal.IDLE,
    "complete": Signal.IDLE,
    "running": Signal.WORKING,
    "holding": Signal.WORKING,
    "restarting": Signal.WORKING,
    "stopping": Signal.WORKING,
    "aborting": Signal.WORKING,
    "held": Signal.WAITING,
    "stopped": Signal.WAITING,
    "aborted": Signal.WAITING,
}


def signal_of(state: str, *, fit_to_feed: bool, alarm: bool) -> Signal:
    """Choose the one signal: an alarm comes first, then what a person is waited for, then the feed permit.

    `state` is the word of an ISA-88 state. Raises ValueError for a word that is none.
    """
    if state not in _OF_STATE:
        raise ValueError(f"{state} is no state of a batch")
    if alarm:
        return Signal.ALARM
    plain = _OF_STATE[state]
    return Signal.FIT_TO_FEED if fit_to_feed and plain is not Signal.WAITING else plain


def lamp_on(signal: Signal, now_s: float) -> bool:
    """Say whether the lamp is lit at this moment of any steady clock."""
    match signal:
        case Signal.IDLE:
            return False
        case Signal.WORKING:
            return True
        case Signal.FIT_TO_FEED:
            return now_s % WINK_EVERY_S >= WINK_S
        case Signal.WAITING:
            return _first_half(now_s, SLOW_HZ)
        case Signal.ALARM:
            return _first_half(now_s, NORMAL_HZ)


def sounder_on(signal: Signal, alarmed_for_s: float | None) -> bool:
    """Say whether the sounder sounds: only for an alarm, in short bursts, and no longer than five minutes.

    `alarmed_for_s` is the age of the youngest alarm that nobody has acknowledged, None when all are: the
    acknowledgement silences, and a new alarm sounds again.
    """
    if signal is not Signal.ALARM or alarmed_for_s is None or not 0.0 <= alarmed_for_s < SOUNDER_ENDS_S:
        return False
    return alarmed_for_s % SOUNDER_EVERY_S < SOUNDER_ON_S


def _first_half(now_s: float, hz: float) -> bool:
    return now_s * hz % 1.0 < 0.5
