"""The run machine: ISA-88 states and commands, with the kinds of step nested in `running`.

Every change of state goes through this table. It knows nothing of tanks or outputs: the scan asks it
whether a command is allowed, and reads the state back. No callbacks, no timers, no side effects.
"""

from __future__ import annotations

from enum import Enum

from transitions.core import MachineError
from transitions.extensions.nesting import HierarchicalMachine

from controller.plan.steps import StepKind


class RunState(Enum):
    """ISA-88 (IEC 61512-1) states of a batch, without the optional pause."""

    IDLE = "idle"
    RUNNING = "running"
    HOLDING = "holding"
    HELD = "held"
    RESTARTING = "restarting"
    STOPPING = "stopping"
    STOPPED = "stopped"
    ABORTING = "aborting"
    ABORTED = "aborted"
    COMPLETE = "complete"


class Command(Enum):
    """ISA-88 commands, and DONE for the end that a state reaches by itself."""

    START = "start"
    HOLD = "hold"
    RESTART = "restart"
    STOP = "stop"
    ABORT = "abort"
    RESET = "reset"
    DONE = "done"


_MOVING = (RunState.RUNNING, RunState.HOLDING, RunState.HELD, RunState.RESTARTING)

TRANSITIONS: tuple[tuple[Command, tuple[RunState, ...], RunState], ...] = (
    (Command.START, (RunState.IDLE,), RunState.RUNNING),
    (Command.HOLD, (RunState.RUNNING, RunState.RESTARTING), RunState.HOLDING),
    (Command.RESTART, (RunState.HELD,), RunState.RESTARTING),
    (Command.STOP, _MOVING, RunState.STOPPING),
    (Command.ABORT, (*_MOVING, RunState.STOPPING, RunState.STOPPED), RunState.ABORTING),
    (Command.RESET, (RunState.STOPPED, RunState.ABORTED, RunState.COMPLETE), RunState.IDLE),
    (Command.DONE, (RunState.RUNNING,), RunState.COMPLETE),
    (Command.DONE, (RunState.HOLDING,), RunState.HELD),
    (Command.DONE, (RunState.RESTARTING,), RunState.RUNNING),
    (Command.DONE, (RunState.STOPPING,), RunState.STOPPED),
    (Command.DONE, (RunState.ABORTING,), RunState.ABORTED),
)

ENDS = frozenset({RunState.STOPPED, RunState.ABORTED, RunState.COMPLETE})


class Sequence:
    """Hold the state of one rig's run machine and move it along the table only."""

    state: str

    def __init__(self) -> None:
        children = [{"name": _name(kind)} for kind in StepKind]
        states: list[str | dict[str, object]] = [
            {"name": state.value, "children": children} if state is RunState.RUNNING else state.value
            for state in RunState
        ]
        self._machine = HierarchicalMachine(
            model=self, states=states, initial=RunState.IDLE.value, auto_transitions=False, queued=False
        )
        for command, sources, target in TRANSITIONS:
            for source in sources:
                self._machine.add_transition(command.value, source.value, target.value)
        for kind in StepKind:
            self._machine.add_transition(_enter(kind), RunState.RUNNING.value, _nested(kind))

    @property
    def run_state(self) -> RunState:
        """Give the ISA-88 state."""
        return RunState(self.state.split("_", 1)[0])

    @property
    def kind(self) -> StepKind | None:
        """Give the kind of step under way, None outside `running` and between steps."""
        _, found, name = self.state.partition("_")
        return StepKind(name.replace("-", " ")) if found else None

    def order(self, command: Command) -> bool:
        """Move along the table; False, and nothing changes, when the state does not know the command."""
        try:
            return bool(self._machine.trigger_event(self, command.value))
        except MachineError:
            return False

    def enter(self, kind: StepKind) -> None:
        """Enter the nested state of a kind of step; only while running."""
        self._machine.trigger_event(self, _enter(kind))

    def allows(self, command: Command) -> bool:
        """Tell whether the present state knows a command."""
        present = self.run_state
        return any(command is known and present in sources for known, sources, _ in TRANSITIONS)

    def rows(self) -> tuple[tuple[str, str, str], ...]:
        """Read (command, from, to) back from the live machine, for the drawn table in the documents."""
        found = [
            (name, transition.source, str(transition.dest))
            for name, event in self._machine.events.items()
            if not name.startswith("enter ")
            for transitions in event.transitions.values()
            for transition in transitions
        ]
        return tuple(sorted(found))


def _name(kind: StepKind) -> str:
    return kind.value.replace(" ", "-")


def _enter(kind: StepKind) -> str:
    return f"enter {kind.value}"


def _nested(kind: StepKind) -> str:
    return f"{RunState.RUNNING.value}_{_name(kind)}"
