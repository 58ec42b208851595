"""The pace of a simulated rig that is served live: its own virtual time, held back to a multiple of real."""

from __future__ import annotations

from collections.abc import Callable

from sim.rig import SimRig

# Real time between two looks of whoever waits, so that a person who asks for a stop is heard at once.
LOOK_S = 0.1


class SimPace:
    """Virtual time; `speed` times as fast as real time at most, None: as fast as it goes."""

    def __init__(
        self, rig: SimRig, speed: float | None, clock: Callable[[], float], sleep: Callable[[float], None]
    ) -> None:
        self._rig = rig
        self._speed = speed
        self._clock = clock
        self._sleep = sleep
        self._began_s = clock()

    def now_s(self) -> float:
        """Give the rig's own time."""
        return self._rig.now_s

    def wait(self, until_s: float) -> None:
        """Let the rig run, at most to `until_s`, and then let real time catch up."""
        speed = self._speed
        if speed is None:
            self._rig.advance(until_s)
            return
        self._rig.advance(min(until_s, self._rig.now_s + LOOK_S * speed))
        left_s = self._rig.now_s / speed - (self._clock() - self._began_s)
        if left_s > 0:
            self._sleep(left_s)
