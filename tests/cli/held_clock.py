"""A board's clock that only its host moves, and the pace that moves it: a slow machine decides nothing."""

from __future__ import annotations

import threading

from controller.service.pace import SCAN_S

CREEP_S = 0.001


class HeldClock:
    """Stands until it is moved, so that no lease runs out; it creeps by 1 ms a look, or no frame ends."""

    def __init__(self) -> None:
        self._now_s = 0.0
        self._lock = threading.Lock()

    def __call__(self) -> float:
        return self.forward(CREEP_S)

    def forward(self, seconds: float) -> float:
        """Move it."""
        with self._lock:
            self._now_s += seconds
            return self._now_s


class HostPace:
    """A scan each twentieth of a second of the board's own time, without waiting for any."""

    def __init__(self, clock: HeldClock) -> None:
        self._clock = clock
        self._now_s = 0.0

    def now_s(self) -> float:
        """Give the time since the pace began."""
        return self._now_s

    def wait(self, until_s: float) -> None:
        """Let a scan's time pass."""
        self._now_s += SCAN_S
        self._clock.forward(SCAN_S)
