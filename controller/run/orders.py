"""Orders: what people ask for, by command or by the wall button, and whether it may be done now.

Interlocks are judged before any order is looked at, and no order can undo them: it is answered "refused".
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from dataclasses import dataclass

from controller.run.image import PanelImage
from controller.run.interlock_row import Response
from controller.run.interlocks import Verdict
from controller.run.recorder import Recorder
from controller.run.sequence import ENDS, Command, RunState, Sequence

WALL = "wall button"
_STARTING = frozenset({Command.START, Command.RESTART})


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

    def next(self, panel: PanelImage, verdict: Verdict) -> Order | None:
        """Give the next order that may be carried out; refuse and record the others before it."""
        self._listen_to_button(panel, verdict)
        while self._waiting:
            order = self._waiting.popleft()
            why_not = self._why_not(order.command, verdict)
            answer = "taken" if why_not is None else f"refused: {why_not}"
            self._recorder.act(order.by, order.command.value, answer)
            if why_not is None:
                return order
        return None

    def _listen_to_button(self, panel: PanelImage, verdict: Verdict) -> None:
        """Turn a fresh press into what the state knows.

        While the batch is held the first press acknowledges what stands, and only the next one restarts.
        After its end a press acknowledges; in every other state it holds at once.
        """
        if panel.button and not self._button:
            state = self._sequence.run_state
            if verdict.unacknowledged and (state is RunState.HELD or state in ENDS):
                self.acknowledge(WALL)
            else:
                self.give(Order(Command.RESTART if state is RunState.HELD else Command.HOLD, WALL))
        self._button = panel.button

    def _why_not(self, command: Command, verdict: Verdict) -> str | None:
        if not self._sequence.allows(command):
            return f"{self._sequence.run_state.value} knows no {command.value}"
        if command is Command.START and not self._ready():
            return "no plan is laid ready"
        if command in _STARTING and verdict.response is not Response.NONE and verdict.worst is not None:
            return verdict.worst.cause.value
        return None
