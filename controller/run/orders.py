"""Orders: what people ask for, by command or by the wall button, and whether it may be done now.

Interlocks are judged before any order is looked at, and no order can undo them: it is answered "refused".
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from dataclasses import dataclass

from controller.run.alarm_track import Notice
from controller.run.alarms import Alarms
from controller.run.image import PanelImage
from controller.run.interlock_row import Response
from controller.run.interlocks import Verdict
from controller.run.recorder import Recorder
from controller.run.sequence import ENDS, Command, RunState, Sequence
from controller.run.situation import Cause

WALL = "wall button"
STARTING = frozenset({Command.START, Command.RESTART})


class StartRefused(Exception):
    """A batch could not be started; `str()` says why."""


@dataclass(frozen=True, slots=True)
class Order:
    """A command and who gave it."""

    command: Command
    by: str


class Orders:
    """Queue orders from any thread; give at most one allowed order a scan. `ready`: a plan is laid ready."""

    def __init__(self, sequence: Sequence, recorder: Recorder, ready: Callable[[], bool]) -> None:
        self._sequence = sequence
        self._recorder = recorder
        self._ready = ready
        self._waiting: deque[Order] = deque()
        self._acknowledgements: deque[str] = deque()
        self._shelves: deque[tuple[Cause, str, float]] = deque()
        self._button = False

    def give(self, order: Order) -> None:
        """Queue an order."""
        self._waiting.append(order)

    def acknowledge(self, by: str) -> None:
        """Queue an acknowledgement of every alarm now active."""
        self._acknowledgements.append(by)

    def acknowledged(self) -> bool:
        """Take the waiting acknowledgements, if any, and record who gave them."""
        taken = bool(self._acknowledgements)
        while self._acknowledgements:
            self._recorder.act(self._acknowledgements.popleft(), "acknowledge", "taken")
        return taken

    def shelve(self, cause: Cause, by: str, for_s: float) -> None:
        """Queue a wish to silence one alarm for a while."""
        self._shelves.append((cause, by, for_s))

    def shelved(self, alarms: Alarms, now_s: float) -> tuple[Notice, ...]:
        """Carry out the waiting wishes that may be, and record all of them."""
        notices = []
        while self._shelves:
            cause, by, for_s = self._shelves.popleft()
            why_not = alarms.why_not_shelve(cause, for_s)
            answer = "taken" if why_not is None else f"refused: {why_not}"
            self._recorder.act(by, f"shelve {cause.value} for {for_s / 60:.3g} min", answer)
            if why_not is None:
                notices.append(alarms.shelve(cause, by, for_s, now_s))
        return tuple(notices)

    def next(self, panel: PanelImage, verdict: Verdict, unheard: frozenset[Cause]) -> Order | None:
        """Give the next order that may be carried out; refuse and record the others before it.

        `unheard` are the announced alarms that nobody has acknowledged.
        """
        self._listen_to_button(panel, bool(verdict.unacknowledged or unheard))
        while self._waiting:
            order = self._waiting.popleft()
            why_not = self._why_not(order.command, verdict)
            answer = "taken" if why_not is None else f"refused: {why_not}"
            self._recorder.act(order.by, order.command.value, answer)
            if why_not is None:
                return order
        return None

    def _listen_to_button(self, panel: PanelImage, unheard: bool) -> None:
        """Turn a fresh press into what the state knows.

        While the batch is held the first press acknowledges what stands, and only the next one restarts.
        After its end a press acknowledges; in every other state it holds at once.
        """
        if panel.button and not self._button:
            state = self._sequence.run_state
            if unheard and (state is RunState.HELD or state in ENDS):
                self.acknowledge(WALL)
            else:
                self.give(Order(Command.RESTART if state is RunState.HELD else Command.HOLD, WALL))
        self._button = panel.button

    def _why_not(self, command: Command, verdict: Verdict) -> str | None:
        if not self._sequence.allows(command):
            return f"{self._sequence.run_state.value} knows no {command.value}"
        if command is Command.START and not self._ready():
            return "no plan is laid ready"
        if command in STARTING and verdict.response is not Response.NONE and verdict.worst is not None:
            return verdict.worst.cause.value
        return None
