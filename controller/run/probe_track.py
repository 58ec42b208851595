"""The track of the pH probes' signals over a night: how far one has wandered, how far two stand apart.

It measures; whether a probe is sound is judged by `controller.measure`.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field

from controller.measure.two_probes import APART_LOOKS
from controller.run.readings import ProbeMoved

# So many looks at the very same signal before it counts as standing still, however long they took.
MIN_LOOKS = 20

# Looks in quick succession see the same moment; two signals that cross on their way are apart again soon.
APART_EVERY_S = 3.0


@dataclass(slots=True)
class ProbeTrack:
    """Follow one signal, mV, from scan to scan."""

    _low_mv: float | None = None
    _high_mv: float | None = None
    _same_mv: float | None = None
    _same_from_s: float = 0.0
    _looks: int = 0
    _same_s: float = 0.0

    def look(self, mv: float | None, now_s: float) -> None:
        """Take one look; a missing reading tells nothing."""
        if mv is None:
            return
        self._low_mv = mv if self._low_mv is None else min(self._low_mv, mv)
        self._high_mv = mv if self._high_mv is None else max(self._high_mv, mv)
        if mv != self._same_mv:
            self._same_mv, self._same_from_s, self._looks = mv, now_s, 0
        self._looks += 1
        self._same_s = now_s - self._same_from_s

    @property
    def moved(self) -> ProbeMoved:
        """Give how it has moved so far."""
        moved_mv = 0.0 if self._low_mv is None or self._high_mv is None else self._high_mv - self._low_mv
        return ProbeMoved(moved_mv, self._same_s if self._looks >= MIN_LOOKS else 0.0)


@dataclass(slots=True)
class PairTrack:
    """Follow how far the first of two signals stands above the second, mV."""

    _apart_mv: deque[float] = field(default_factory=lambda: deque(maxlen=APART_LOOKS))
    _at_s: float | None = None

    def look(self, first_mv: float | None, second_mv: float | None, now_s: float) -> None:
        """Take one look at both; where one is missing what was seen before tells nothing any more."""
        if first_mv is None or second_mv is None:
            self._apart_mv.clear()
        elif self._at_s is None or now_s - self._at_s >= APART_EVERY_S:
            self._apart_mv.append(first_mv - second_mv)
            self._at_s = now_s

    @property
    def apart_mv(self) -> tuple[float, ...]:
        """Give the latest differences, mV, the oldest first."""
        return tuple(self._apart_mv)
