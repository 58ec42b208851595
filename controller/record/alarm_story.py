"""Alarms as people follow them: each raising of an alarm with what became of it.

Grouping only; no wording and no page.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from controller.record.batch_record import Timed
from controller.record.events import AlarmChange, AlarmState


@dataclass(frozen=True, slots=True)
class AlarmStory:
    """One alarm from its raising on, or one that was not announced; the first change tells what it meant."""

    changes: tuple[Timed[AlarmChange], ...]

    @property
    def announced(self) -> bool:
        """Tell whether people were told; otherwise the first change says why not, or who shelved it."""
        return any(change.event.state == AlarmState.RAISED for change in self.changes)


def alarm_stories(changes: Iterable[Timed[AlarmChange]]) -> tuple[AlarmStory, ...]:
    """Group changes into stories, in order of their raising. A new raising begins a new story."""
    stories: list[list[Timed[AlarmChange]]] = []
    latest: dict[str, list[Timed[AlarmChange]]] = {}
    for change in changes:
        name = change.event.alarm
        if name not in latest or change.event.state == AlarmState.RAISED:
            latest[name] = []
            stories.append(latest[name])
        latest[name].append(change)
    return tuple(AlarmStory(tuple(story)) for story in stories)
