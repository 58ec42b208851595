"""How many alarms may be announced: three from one root cause, and never ten in ten minutes.

An episode is a root cause with everything that follows from it; it lives until all of it has been still for
ten minutes, or a person starts or restarts the batch. Only announcing is counted here, never acting. The
flood of ten in ten minutes is the one of ISA-18.2; three and still for ten minutes are this rig's own.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable
from dataclasses import dataclass, field

from controller.run.situation import Cause

MOST_OF_ONE_ROOT = 3
STILL_S = 600.0
FLOOD_WITHIN_S = 600.0
FLOOD = 10


@dataclass(slots=True, eq=False)
class Episode:
    """One root cause and what follows from it. `told` counts its announcements."""

    root: Cause
    members: set[Cause] = field(default_factory=set)
    told: int = 0


@dataclass(slots=True)
class AlarmBudget:
    """Say whether one more announcement may be made; `spend` it when it is."""

    _episodes: list[Episode] = field(default_factory=list)
    _recent_s: deque[float] = field(default_factory=deque)

    def episode_for(self, cause: Cause, may_follow: Iterable[Cause]) -> Episode:
        """Give the episode of a cause: its own, the one it may follow from, or a new one with it as root."""
        links = {cause, *may_follow}
        for episode in self._episodes:
            if episode.members & links:
                episode.members.add(cause)
                return episode
        self._episodes.append(Episode(cause, {cause}))
        return self._episodes[-1]

    def leave(self, cause: Cause) -> None:
        """Forget a cause that has been still for long enough; an episode without members is over."""
        for episode in self._episodes:
            episode.members.discard(cause)
        self._episodes = [episode for episode in self._episodes if episode.members]

    def why_not(self, episode: Episode, now_s: float) -> str | None:
        """Say why nothing more is announced now, or None."""
        if episode.told >= MOST_OF_ONE_ROOT:
            return f"{MOST_OF_ONE_ROOT} alarms of one root ({episode.root.value}) have been told"
        if self.free_s(now_s) is not None:
            return f"{FLOOD - 1} alarms have been told in {FLOOD_WITHIN_S / 60:g} min"
        return None

    def free_s(self, now_s: float) -> float | None:
        """Say when the next announcement is free while the ten minutes are full, None when they are not."""
        while self._recent_s and self._recent_s[0] + FLOOD_WITHIN_S <= now_s:
            self._recent_s.popleft()
        return self._recent_s[0] + FLOOD_WITHIN_S if len(self._recent_s) >= FLOOD - 1 else None

    def spend(self, episode: Episode, now_s: float) -> None:
        """Count one announcement."""
        episode.told += 1
        self._recent_s.append(now_s)
