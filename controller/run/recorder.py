"""What the run hands to the record: readings, alarms, acts and changes of state, each with its time.

It words events; it judges nothing and touches no file (the ledger's own thread does).
"""

from __future__ import annotations

from controller.record.events import AlarmChange, AlarmState, AnyEvent, OperatorAct, StateChange
from controller.record.writer import Ledger
from controller.run.interlock_row import Interlock, Response
from controller.run.interlocks import Verdict
from controller.run.readings import Readings, reading_event
from controller.run.situation import Cause, Trouble


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

    def alarms(self, verdict: Verdict, trouble: Trouble | None, first_out: Cause | None) -> None:
        """Record every alarm that changed; rows without a response need no person and are no alarms."""
        for row, move in verdict.moves:
            if row.response is not Response.NONE:
                self.put(self._alarm(row, move, trouble, first_out))

    def reading(self, readings: Readings, number: int, every_s: float) -> None:
        """Record a plain look at the tank if the last one is `every_s` old; it may not be judged."""
        if self._logged_s is not None and self.now_s - self._logged_s < every_s:
            return
        self._logged_s = self.now_s
        self.put(reading_event(readings, self.batch, number, readings.ph, accepted=False))

    def _alarm(
        self, row: Interlock, move: AlarmState, trouble: Trouble | None, first_out: Cause | None
    ) -> AlarmChange:
        raised_by_phase = trouble is not None and trouble.cause is row.cause and move is AlarmState.RAISED
        return AlarmChange(
            batch=self.batch,
            alarm=row.cause.value,
            priority=row.priority.value,
            state=move,
            text=f"{trouble.text}. {row.consequence}" if trouble and raised_by_phase else row.consequence,
            remedy=row.remedy,
            first_out=first_out is row.cause,
        )
