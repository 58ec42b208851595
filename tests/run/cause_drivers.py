"""The test book: how each cause is brought about on a fake rig, how it goes, and where it cannot be.

A cause that cannot be in a state is driven there all the same, and must stay away.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from fake_rig import BOOT_ID
from run_states import At, Bench

from controller.plan.steps import StepKind
from controller.run.causes.batch import LONG_HOLD_S
from controller.run.causes.machine import STALE_S
from controller.run.causes.tank import STALL_S, STIRRED, SUPPLY_DRY_S, UNFED
from controller.run.image import Selector, Trip
from controller.run.sequence import RunState
from controller.run.situation import Cause, Trouble

Act = Callable[[Bench], None]
Where = Callable[[At], bool]


@dataclass(frozen=True)
class Driver:
    """`lead_s` is how long the rig must be so before the condition is there, the table's delay left out."""

    on: Act
    off: Act
    lead_s: float = 0.0
    can_be: Where = lambda at: True
    every_s: float = 0.25


def panel(**changes: object) -> Act:
    def act(bench: Bench) -> None:
        bench.rig.panel = replace(bench.rig.panel, **changes)  # type: ignore[arg-type]

    return act


def board(**changes: object) -> Act:
    def act(bench: Bench) -> None:
        bench.rig.board = replace(bench.rig.board, **changes)  # type: ignore[arg-type]

    return act


def rig(**changes: object) -> Act:
    def act(bench: Bench) -> None:
        for name, value in changes.items():
            setattr(bench.rig, name, value)

    return act


def told(cause: Cause) -> Driver:
    """What a phase would report; that real phases do is tested where they are."""

    def on(bench: Bench) -> None:
        bench.scan._trouble = Trouble(cause, "seen by the test")

    return Driver(on, lambda bench: None)


def _refuse(bench: Bench) -> None:
    bench.scan._guard_refused = "asked for by the test"


def _fault(text: str | None) -> Act:
    def act(bench: Bench) -> None:
        bench.ledger.fault = text

    return act


def running(*kinds: StepKind) -> Where:
    return lambda at: at.state is RunState.RUNNING and at.kind in kinds


def _no_inflow(at: At) -> bool:
    return at.kind not in (StepKind.FILL, *TURNING)


WITH_AIR = (StepKind.CONDITION, StepKind.MIX, StepKind.REBOUND)
PUMPED = (StepKind.DOSE, StepKind.RINSE)
# Beside the tank the pump turns as in a dose; level and low float say nothing of it.
TURNING = (*PUMPED, StepKind.DELIVER)
POWERED = (StepKind.FILL, *TURNING, StepKind.AGITATE, StepKind.KEEP, *WITH_AIR)
NOTHING: Act = lambda bench: None  # noqa: E731

PHASE_CAUSES = (
    Cause.PRECONDITION,
    Cause.CLOCK_DOUBTFUL,
    Cause.CALIBRATION_OVERDUE,
    Cause.PROOF_TEST_OVERDUE,
    Cause.STOCK_EMPTY,
    Cause.CAP_REACHED,
    Cause.WATER_TEMPERATURE,
    Cause.PROBE_DOUBTFUL,
    Cause.TRIM_FAILED,
    Cause.DOSE_UNPROVEN,
    Cause.DOSE_MISSING,
    Cause.DOSE_EXCESS,
    Cause.PUMP_DRIFTED,
    Cause.PUMP_DRIFTS,
    Cause.SCALE_LOST,
    Cause.STEP_OVERDUE,
    Cause.TANK_UNFIT,
    Cause.PERMIT_WITHDRAWN,
)
"""What the phase under way reports, and no look at the rig can see."""

BOOK: dict[Cause, Driver] = {
    Cause.ESTOP: Driver(panel(estop_ok=False), panel(estop_ok=True)),
    Cause.LEAK: Driver(board(leak=True), board(leak=False)),
    Cause.HIGH_FLOAT: Driver(board(high_float=True), board(high_float=False)),
    Cause.VALVE_LEAKS_BY: Driver(rig(extra_mm=30.0), rig(extra_mm=0.0), can_be=_no_inflow),
    Cause.BOARD_TRIPPED: Driver(
        board(trips=frozenset({Trip.LEASE}), first_trip=Trip.LEASE), board(trips=frozenset(), first_trip=None)
    ),
    Cause.BOARD_RESTARTED: Driver(
        board(boot_id=BOOT_ID + 1), NOTHING, can_be=lambda at: at.state is not RunState.IDLE
    ),
    Cause.BOARD_SILENT: Driver(rig(board_answers=False), rig(board_answers=True)),
    Cause.STALE_INPUT: Driver(rig(clock_runs=False), rig(clock_runs=True), lead_s=STALE_S),
    Cause.ENABLE_LOST: Driver(board(enabled=False), board(enabled=True), can_be=running(*POWERED)),
    Cause.GUARD_REFUSED: Driver(_refuse, NOTHING),
    Cause.RECORD_FAULT: Driver(_fault("disk full"), _fault(None)),
    Cause.SELECTOR_IMPOSSIBLE: Driver(panel(selector=Selector.IMPOSSIBLE), panel(selector=Selector.AUTO)),
    Cause.SELECTOR_OFF: Driver(panel(selector=Selector.OFF), panel(selector=Selector.AUTO)),
    Cause.SELECTOR_HAND: Driver(panel(selector=Selector.HAND), panel(selector=Selector.AUTO)),
    Cause.SUPPLY_FAILED: Driver(
        rig(supply_open=False), rig(supply_open=True), SUPPLY_DRY_S, running(StepKind.FILL)
    ),
    Cause.FILL_DISAGREES: Driver(rig(extra_mm=-30.0), rig(extra_mm=0.0), can_be=running(StepKind.FILL)),
    Cause.LEVEL_LOST: Driver(
        rig(level_lost=True), rig(level_lost=False), can_be=running(StepKind.FILL, *PUMPED)
    ),
    Cause.FOAM: Driver(rig(foam_l=2.5), rig(foam_l=0.0), 20.0, running(StepKind.FILL, *WITH_AIR)),
    Cause.LEVEL_FALLS: Driver(rig(extra_mm=-30.0), rig(extra_mm=0.0), 6.0, running(*UNFED)),
    Cause.PUMP_STALLED: Driver(rig(pump_turns=False), rig(pump_turns=True), STALL_S, running(*TURNING)),
    Cause.LOW_FLOAT: Driver(
        panel(low_float=True),
        panel(low_float=False),
        can_be=lambda at: at.kind not in STIRRED | {StepKind.DELIVER},
    ),
    Cause.RUN_DRY: Driver(panel(low_float=True), panel(low_float=False), can_be=running(*STIRRED)),
    Cause.HELD_LONG: Driver(
        NOTHING, NOTHING, LONG_HOLD_S, lambda at: at.state is RunState.HELD, every_s=300.0
    ),
    **{cause: told(cause) for cause in PHASE_CAUSES},
}
