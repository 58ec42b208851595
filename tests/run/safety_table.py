"""What must be so, written down apart from the program: how soon a cause acts, what is off, what may follow.

Responses and latches are those of `test_interlocks.MUST`. States and changes: ISA-88 (IEC 61512-1). The
interlock table and the run machine's own table are never read here.
"""

from __future__ import annotations

from test_interlocks import MUST_BLOCK_ALL, PHASE_CAUSES

from controller.plan.steps import StepKind
from controller.run.interlock_row import Output, Response
from controller.run.sequence import RunState
from controller.run.situation import Cause

AT_MOST_S = {
    Cause.VALVE_LEAKS_BY: 5.0,
    Cause.BOARD_SILENT: 1.0,
    Cause.ENABLE_LOST: 2.0,
    Cause.FILL_DISAGREES: 5.0,
    Cause.LEVEL_LOST: 2.0,
    Cause.FOAM: 3.0,
    Cause.LEVEL_FALLS: 3.0,
}
LONGEST_HOLD_S = 3600.0
ALL = frozenset(Output)
WET = frozenset({Output.FILL, Output.DOSE})
OFF: dict[Cause, frozenset[Output]] = {
    **dict.fromkeys(Cause, WET),
    **dict.fromkeys(MUST_BLOCK_ALL, ALL),
    Cause.HIGH_FLOAT: WET | {Output.PERMIT},
    Cause.SELECTOR_HAND: ALL - {Output.STIR},
    Cause.FOAM: WET | {Output.AIR},
    Cause.LOW_FLOAT: frozenset({Output.STIR, Output.DOSE}),
    Cause.RUN_DRY: WET | {Output.STIR},
    Cause.PUMP_DRIFTS: frozenset(),
    Cause.SCALE_LOST: frozenset(),
}
STIRS = frozenset(
    {StepKind.CONDITION, StepKind.AGITATE, StepKind.DOSE, StepKind.RINSE, StepKind.MIX, StepKind.REBOUND}
)
UNFED = STIRS | {StepKind.SETTLE, StepKind.MEASURE, StepKind.TRIM, StepKind.RELEASE}
BY_BOARD = frozenset({Cause.LEAK, Cause.BOARD_TRIPPED, Cause.ENABLE_LOST, Cause.LEVEL_LOST})
TOLD = frozenset(PHASE_CAUSES)

S = RunState
MAY_BECOME = {
    S.IDLE: {S.IDLE, S.RUNNING},
    S.RUNNING: {S.RUNNING, S.HOLDING, S.STOPPING, S.ABORTING, S.COMPLETE},
    S.HOLDING: {S.HELD, S.STOPPING, S.ABORTING},
    S.HELD: {S.HELD, S.RESTARTING, S.STOPPING, S.ABORTING},
    S.RESTARTING: {S.RUNNING, S.HOLDING, S.STOPPING, S.ABORTING},
    S.STOPPING: {S.STOPPED, S.ABORTING},
    S.STOPPED: {S.STOPPED, S.ABORTING, S.IDLE},
    S.ABORTING: {S.ABORTED},
    S.ABORTED: {S.ABORTED, S.IDLE},
    S.COMPLETE: {S.COMPLETE, S.IDLE},
}
AFTER = {
    Response.HOLD: frozenset(S) - {S.RUNNING, S.RESTARTING},
    Response.STOP: frozenset({S.STOPPING, S.STOPPED, S.ABORTING, S.ABORTED, S.COMPLETE, S.IDLE}),
    Response.ABORT: frozenset({S.ABORTING, S.ABORTED, S.COMPLETE, S.IDLE}),
}
BEGINS = {(S.IDLE, S.RUNNING): "start", (S.HELD, S.RESTARTING): "restart"}
