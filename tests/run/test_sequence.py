"""The run machine follows ISA-88 and nothing else."""

import itertools

import pytest

from controller.plan.steps import StepKind
from controller.run.sequence import TRANSITIONS, Command, RunState, Sequence

# The state table of ISA-88.01 without the optional pause (names from the standard; the table from memory).
STANDARD = {
    ("idle", "start"): "running",
    ("running", "hold"): "holding",
    ("running", "stop"): "stopping",
    ("running", "abort"): "aborting",
    ("running", "done"): "complete",
    ("holding", "stop"): "stopping",
    ("holding", "abort"): "aborting",
    ("holding", "done"): "held",
    ("held", "restart"): "restarting",
    ("held", "stop"): "stopping",
    ("held", "abort"): "aborting",
    ("restarting", "hold"): "holding",
    ("restarting", "stop"): "stopping",
    ("restarting", "abort"): "aborting",
    ("restarting", "done"): "running",
    ("stopping", "abort"): "aborting",
    ("stopping", "done"): "stopped",
    ("stopped", "abort"): "aborting",
    ("stopped", "reset"): "idle",
    ("aborting", "done"): "aborted",
    ("aborted", "reset"): "idle",
    ("complete", "reset"): "idle",
}

# A way to each state from idle, in commands.
WAYS = {
    RunState.IDLE: (),
    RunState.RUNNING: (Command.START,),
    RunState.HOLDING: (Command.START, Command.HOLD),
    RunState.HELD: (Command.START, Command.HOLD, Command.DONE),
    RunState.RESTARTING: (Command.START, Command.HOLD, Command.DONE, Command.RESTART),
    RunState.STOPPING: (Command.START, Command.STOP),
    RunState.STOPPED: (Command.START, Command.STOP, Command.DONE),
    RunState.ABORTING: (Command.START, Command.ABORT),
    RunState.ABORTED: (Command.START, Command.ABORT, Command.DONE),
    RunState.COMPLETE: (Command.START, Command.DONE),
}


def machine_in(state: RunState) -> Sequence:
    machine = Sequence()
    for command in WAYS[state]:
        assert machine.order(command)
    assert machine.run_state is state
    return machine


@pytest.mark.parametrize(("state", "command"), list(itertools.product(RunState, Command)))
def test_every_state_and_command_follows_the_standard(state: RunState, command: Command) -> None:
    machine = machine_in(state)
    expected = STANDARD.get((state.value, command.value))
    assert machine.allows(command) == (expected is not None)
    assert machine.order(command) == (expected is not None)
    assert machine.run_state.value == (expected or state.value)


def test_the_live_machine_has_the_rows_of_the_table_and_no_other() -> None:
    table = {(c.value, s.value, target.value) for c, sources, target in TRANSITIONS for s in sources}
    assert set(Sequence().rows()) == table
    assert {((frm, cmd), to) for cmd, frm, to in Sequence().rows()} == {
        ((frm, cmd), to) for (frm, cmd), to in STANDARD.items()
    }


@pytest.mark.parametrize("kind", StepKind)
def test_kinds_of_step_nest_in_running(kind: StepKind) -> None:
    machine = machine_in(RunState.RUNNING)
    assert machine.kind is None
    machine.enter(kind)
    assert (machine.run_state, machine.kind) == (RunState.RUNNING, kind)
    assert machine.order(Command.HOLD)
    assert (machine.run_state, machine.kind) == (RunState.HOLDING, None)


@pytest.mark.parametrize("state", [state for state in RunState if state is not RunState.RUNNING])
def test_no_step_can_be_entered_outside_running(state: RunState) -> None:
    machine = machine_in(state)
    with pytest.raises(Exception, match="enter dose"):
        machine.enter(StepKind.DOSE)
    assert machine.run_state is state


@pytest.mark.parametrize("end", [RunState.STOPPED, RunState.ABORTED, RunState.COMPLETE])
def test_from_an_end_only_reset_leads_on_and_only_to_idle(end: RunState) -> None:
    for command in (Command.START, Command.RESTART, Command.HOLD, Command.DONE):
        assert not machine_in(end).order(command)
    machine = machine_in(end)
    assert machine.order(Command.RESET)
    assert machine.run_state is RunState.IDLE
