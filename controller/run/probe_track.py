"""The track of one pH probe's signal over a night: how far it has wandered, for how long it stood still.

It measures; whether a probe is sound is judged by `controller.measure`.
"""

from __future__ import annotations

from dataclasses import dataclass

from controller.run.readings import ProbeMoved

# So many looks at the very same signal before it counts as standing still, however long they took.
MIN_LOOKS = 20


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
