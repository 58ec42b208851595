"""The person in charge of a drawn night: waits, mends, acknowledges, resumes, stops, or meddles.

Acts through the wall and through orders only, as a person could. What the rig makes of it is not judged here.
"""

from __future__ import annotations

from dataclasses import dataclass

from controller.run.sequence import ENDS, Command, RunState
from controller.run.snapshot import Snapshot
from sim.campaign.draw import ORDERS, DrawnNight, Habit, cure_of
from sim.faults.book import fault_of
from sim.night import Night

PERSON = "person in charge"
TRIES = 6
"""So many times somebody resumes before giving up on the batch."""


@dataclass(slots=True)
class People:
    """Carry out what the night was drawn to see done."""

    drawn: DrawnNight
    _held_from_s: float | None = None
    _released_from_s: float | None = None
    _tries: int = 0
    _meddled: int = 0
    _stopped: bool = False

    def act(self, night: Night, now: Snapshot) -> None:
        """Look at the rig once and do what is due."""
        self._meddle(night, now)
        self._end_the_keeping(night, now)
        if now.state is not RunState.HELD:
            self._held_from_s = None
        elif self._held_from_s is None:
            self._held_from_s = now.now_s
        elif now.now_s - self._held_from_s >= self.drawn.reacts_s:
            self._held_from_s = now.now_s
            self._see_to_it(night)

    def next_s(self, now_s: float) -> float:
        """Say how long the rig may run on before somebody might want to act, s."""
        due = [one.at_s for one in self.drawn.meddling[self._meddled :][:1]]
        if self._held_from_s is not None:
            due.append(self._held_from_s + self.drawn.reacts_s)
        if self._released_from_s is not None:
            due.append(self._released_from_s + self.drawn.keeps_s)
        return max(0.05, min(due, default=now_s + 3600.0) - now_s)

    def _meddle(self, night: Night, now: Snapshot) -> None:
        while self._meddled < len(self.drawn.meddling):
            one = self.drawn.meddling[self._meddled]
            if one.at_s > now.now_s:
                return
            self._meddled += 1
            if one.act in ORDERS:
                self._order(night, one.act)
            else:
                _do(night, one.act)

    def _order(self, night: Night, act: str) -> None:
        if act == "acknowledge":
            night.scan.acknowledge(PERSON)
        else:
            night.scan.order(Command(act), PERSON)

    def _end_the_keeping(self, night: Night, now: Snapshot) -> None:
        if now.released and self._released_from_s is None:
            self._released_from_s = now.now_s
        if self._released_from_s is None or self._stopped or now.state in ENDS:
            return
        if now.now_s - self._released_from_s >= self.drawn.keeps_s:
            self._stopped = True
            night.scan.order(Command.STOP, PERSON)

    def _see_to_it(self, night: Night) -> None:
        habit = self.drawn.habit
        if habit is Habit.ABSENT:
            return
        self._tries += 1
        night.scan.acknowledge(PERSON)
        if habit is Habit.STOPPING or self._tries > TRIES:
            night.scan.order(Command.STOP, PERSON)
            return
        if habit is Habit.MENDING:
            for _, strike in night.faults.struck:
                cure = cure_of(strike)
                if cure is not None:
                    _do(night, cure)
        night.scan.order(Command.RESTART, PERSON)


def _do(night: Night, entry: str) -> None:
    fault, of = fault_of(entry, night.rig.site)
    fault.act(night.rig, of)
