"""When the next scan comes: a clock and a wait, for a rig that lives in real time. No decisions live here."""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol

SCAN_S = 0.05


class Pace(Protocol):
    """The time of the scans, s, and the wait between two of them."""

    def now_s(self) -> float:
        """Give the time since the pace began."""
        ...

    def wait(self, until_s: float) -> None:
        """Wait until the next scan is due: at `until_s` at the latest."""
        ...


class SteadyPace:
    """Twenty scans a second by a clock that never jumps, so that an input's edge is seen within one of them.

    A scan that took too long is followed at once by the next, and the ones that were missed are left out.
    """

    def __init__(self, clock: Callable[[], float], sleep: Callable[[float], None]) -> None:
        self._clock = clock
        self._sleep = sleep
        self._began_s = clock()
        self._due_s = 0.0

    def now_s(self) -> float:
        """Give the time since the pace began."""
        return self._clock() - self._began_s

    def wait(self, until_s: float) -> None:
        """Wait for the next beat, or less when the scan asks for less."""
        now_s = self.now_s()
        self._due_s = max(self._due_s + SCAN_S, now_s)
        left_s = min(self._due_s, max(until_s, now_s)) - now_s
        if left_s > 0:
            self._sleep(left_s)
