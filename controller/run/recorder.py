"""What the run hands to the record: readings, alarms, acts and changes of state, each with its time.

It words events; it judges nothing and touches no file (the ledger's own thread does).
"""

from __future__ import annotations

from controller.record.events import AlarmChange, AnyEvent, OperatorAct, StateChange
from controller.record.writer import Ledger
from controller.run.alarm_track import Notice
from controller.run.readings import Readings, reading_event


class Recorder:
    """Stamp events with the scan's time and pass them on."""

    def __init__(self, ledger: Ledger) -> None:
        self._ledger = ledger
        self._logged_s: float | None = None
        self.now_s = 0.0
        self.batch = 0

    @property
    def fault(self) -> str | None:
        """Say why nothing more can be recorded, or None."""
        return self._ledger.fault

    def put(self, event: AnyEvent) -> int:
        """Hand over one event; give its ticket."""
        return self._ledger.put(self.now_s, event)

    def durable(self, ticket: int) -> bool:
        """Tell whether an event is on disk."""
        return self._ledger.durable(ticket)

    def act(self, who: str, act: str, answer: str) -> None:
        """Record what a person or a remote command asked for and what became of it."""
        self.put(OperatorAct(batch=self.batch, who=who, act=act, answer=answer))

    def state(self, state: str, by: str, reason: str) -> None:
        """Record a change of the run state."""
        self.put(StateChange(batch=self.batch, state=state, by=by, reason=reason))

    def alarms(self, notices: tuple[Notice, ...]) -> None:
        """Record every change of an alarm that people are told, or could have been."""
        for notice in notices:
            self.put(
                AlarmChange(
                    batch=self.batch,
                    alarm=notice.row.cause.value,
                    priority=notice.row.priority.value,
                    state=notice.state,
                    text=notice.text,
                    remedy=notice.row.remedy,
                    first_out=notice.first_out,
                )
            )

    def reading(self, readings: Readings, number: int, every_s: float) -> None:
        """Record a plain look at the tank if the last one is `every_s` old; it may not be judged."""
        if self._logged_s is not None and self.now_s - self._logged_s < every_s:
            return
        self._logged_s = self.now_s
        self.put(reading_event(readings, self.batch, number, readings.ph, accepted=False))
