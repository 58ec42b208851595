"""Applying the interlock table scan by scan: delays, latches, acknowledgements, and the worst response.

Which cause stops what is `interlock_table.py`; here nothing is known of any single cause.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from controller.record.events import AlarmState
from controller.run.alarm_track import Standing
from controller.run.interlock_row import Clear, Interlock, Output, Response
from controller.run.interlock_table import TABLE
from controller.run.situation import Cause, Situation
from controller.settings.values import Rig


@dataclass(frozen=True, slots=True)
class Verdict:
    """What the interlocks say in one scan. `worst` is the row behind `response`.

    `unacknowledged` are the active causes that need a person and that nobody has acknowledged yet.
    """

    response: Response
    worst: Interlock | None
    active: tuple[Interlock, ...]
    blocked: frozenset[Output]
    moves: tuple[tuple[Interlock, AlarmState], ...]
    wake_s: float | None
    unacknowledged: frozenset[Cause] = frozenset()


@dataclass(slots=True)
class _Timer:
    since_s: float | None = None
    active: bool = False
    acknowledged: bool = False


@dataclass(slots=True)
class Interlocks:
    """Apply the table scan by scan, remembering since when each condition has held and what is latched."""

    rig: Rig
    table: tuple[Interlock, ...] = TABLE
    first_out: Cause | None = None
    _timers: dict[Cause, _Timer] = field(default_factory=dict)
    _acknowledge: bool = False
    _quiet: Verdict = field(default=Verdict(Response.NONE, None, (), frozenset(), (), None))

    def acknowledge(self) -> None:
        """Take a person's acknowledgement; it counts for the causes active at the next judgement."""
        self._acknowledge = True

    def is_active(self, cause: Cause) -> bool:
        """Tell whether a cause was active at the last judgement."""
        timer = self._timers.get(cause)
        return timer is not None and timer.active

    def standing(self, verdict: Verdict) -> tuple[Standing, ...]:
        """Give what is active by a verdict just given, and whether its condition still holds."""
        return tuple(Standing(row, self._timers[row.cause].since_s is not None) for row in verdict.active)

    def judge(self, now: Situation, now_s: float) -> Verdict:
        """Judge one scan. Times must not run backwards."""
        moves: list[tuple[Interlock, AlarmState]] = []
        active: list[Interlock] = []
        wake_s: float | None = None
        for row in self.table:
            holds = row.trip.test(now, self.rig)
            timer = self._timers.get(row.cause)
            if timer is None:
                if not holds:
                    continue
                timer = self._timers[row.cause] = _Timer()
            due_s = self._time(timer, row, holds, now_s, moves)
            if due_s is not None:
                wake_s = due_s if wake_s is None else min(wake_s, due_s)
            if timer.active:
                active.append(row)
            elif timer.since_s is None:
                del self._timers[row.cause]
        self._acknowledge = False
        if all(row.response is Response.NONE for row in active):
            self.first_out = None
        if not active and not moves:
            return (
                self._quiet if wake_s is None else Verdict(Response.NONE, None, (), frozenset(), (), wake_s)
            )
        return self._verdict(active, moves, wake_s)

    def _time(
        self,
        timer: _Timer,
        row: Interlock,
        holds: bool,
        now_s: float,
        moves: list[tuple[Interlock, AlarmState]],
    ) -> float | None:
        """Advance one row's timer; give the moment at which its delay will have passed, if it runs."""
        if holds and timer.since_s is None:
            timer.since_s = now_s
        if not holds:
            timer.since_s = None
        if timer.active:
            self._let_go(timer, row, holds, moves)
            return None
        if timer.since_s is None:
            return None
        due_s = timer.since_s + row.delay_s
        if now_s < due_s:
            return due_s
        timer.active, timer.acknowledged = True, False
        if self.first_out is None and row.response is not Response.NONE:
            self.first_out = row.cause
        moves.append((row, AlarmState.RAISED))
        return None

    def _let_go(
        self, timer: _Timer, row: Interlock, holds: bool, moves: list[tuple[Interlock, AlarmState]]
    ) -> None:
        if self._acknowledge and not timer.acknowledged:
            timer.acknowledged = True
            moves.append((row, AlarmState.ACKNOWLEDGED))
        gone = not holds and (row.clear is Clear.BY_ITSELF or timer.acknowledged)
        if gone:
            timer.active = False
            moves.append((row, AlarmState.CLEARED))

    def _verdict(
        self, active: list[Interlock], moves: list[tuple[Interlock, AlarmState]], wake_s: float | None
    ) -> Verdict:
        worst: Interlock | None = None
        blocked: frozenset[Output] = frozenset()
        for row in active:
            blocked |= row.blocks
            if row.response is not Response.NONE and (worst is None or row.response > worst.response):
                worst = row
        response = Response.NONE if worst is None else worst.response
        unheard = frozenset(
            row.cause
            for row in active
            if row.response is not Response.NONE and not self._timers[row.cause].acknowledged
        )
        return Verdict(response, worst, tuple(active), blocked, tuple(moves), wake_s, unheard)
