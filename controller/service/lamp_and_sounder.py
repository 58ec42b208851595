"""What the lamp and the sounder tell a person: one signal, its flashing, its sound. The time is passed in.

One lamp has no colours, so the rhythm tells. Flashing rates lie in the two bands of IEC 60073 (from memory:
slow 0.4 to 0.8 Hz, normal 1.4 to 2.8 Hz, the faster for what is more urgent). No pins and no run live here.
"""

from __future__ import annotations

from collections.abc import Callable
from enum import Enum

from controller.run.sequence import RunState
from controller.run.situation import Cause
from controller.run.snapshot import Snapshot
from firmware_bridge.faults import HardwareFault

SLOW_HZ = 0.5
NORMAL_HZ = 2.0
# Lit, with one short wink: no flashing in the sense of IEC 60073, seen from afar as "on".
WINK_EVERY_S = 4.0
WINK_S = 0.4
# Short bursts that end by themselves, so that nobody cuts the wire (common practice, no source).
SOUNDER_EVERY_S = 2.0
SOUNDER_ON_S = 0.5
SOUNDER_ENDS_S = 300.0


Show = Callable[[bool, bool], None]
"""Takes whether the lamp is lit and the sounder sounds."""


class Signal(Enum):
    """What a person at the rig should know."""

    IDLE = "nothing is under way"
    WORKING = "the batch is under way"
    FIT_TO_FEED = "the tank is fit to feed"
    WAITING = "the rig waits for a person"
    ALARM = "something is wrong"


_OF_STATE = {
    RunState.IDLE: Signal.IDLE,
    RunState.RUNNING: Signal.WORKING,
    RunState.HOLDING: Signal.WORKING,
    RunState.HELD: Signal.WAITING,
    RunState.RESTARTING: Signal.WORKING,
    RunState.STOPPING: Signal.WORKING,
    RunState.STOPPED: Signal.WAITING,
    RunState.ABORTING: Signal.WORKING,
    RunState.ABORTED: Signal.WAITING,
    RunState.COMPLETE: Signal.IDLE,
}


class LampAndSounder:
    """Follow the alarms of one rig; call it after every scan.

    A lamp that cannot be switched is told as `trouble`; it does not end a night.
    """

    def __init__(self, show: Show) -> None:
        self._show = show
        self._unheard: frozenset[Cause] = frozenset()
        self._youngest_s: float | None = None
        self.trouble: str | None = None

    def __call__(self, now: Snapshot) -> None:
        """Show what a person at the rig should know now."""
        if now.unacknowledged - self._unheard:
            self._youngest_s = now.now_s
        elif not now.unacknowledged:
            self._youngest_s = None
        self._unheard = now.unacknowledged
        signal = signal_of(now.state, fit_to_feed=now.outputs.permit, alarm=bool(now.unacknowledged))
        age_s = None if self._youngest_s is None else now.now_s - self._youngest_s
        try:
            self._show(lamp_on(signal, now.now_s), sounder_on(signal, age_s))
            self.trouble = None
        except HardwareFault as fault:
            self.trouble = str(fault)


def signal_of(state: RunState, *, fit_to_feed: bool, alarm: bool) -> Signal:
    """Choose the one signal: an alarm comes first, then what a person is waited for, then the feed permit."""
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
