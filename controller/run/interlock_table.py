"""The interlock table: each cause with its test, delay, response, blocked outputs and clear rule.

The table is the whole truth about what stops what; `interlocks.py` applies and times it. No row drives
anything: the sequence reacts to the response, the guard to the blocked outputs.
To add one: a `Cause` in `situation.py`, a row here, a test that breaks it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum, IntEnum

from controller.plan.steps import StepKind
from controller.run.image import Selector
from controller.run.situation import Cause, Situation
from controller.settings.values import Rig


class Output(Enum):
    """What can be blocked."""

    FILL = "fill valve"
    DOSE = "dosing pumps"
    STIR = "stir pump"
    AIR = "air pump"
    AGITATE = "stock agitators"
    DRAIN = "drain"
    PERMIT = "feed permit"


class Response(IntEnum):
    """What the run machine must do, worst last; the worst active one wins."""

    NONE = 0
    HOLD = 1
    STOP = 2
    ABORT = 3


class Clear(Enum):
    """When a cause that has gone is over."""

    BY_ITSELF = "when it has gone"
    ACKNOWLEDGED = "when it has gone and a person has acknowledged it"


class Priority(Enum):
    """How urgently a person must act (ISA-18.2 uses three or four; three serve one rig)."""

    LOW = "low"
    MEDIUM = "medium"
    HIGH = "high"


@dataclass(frozen=True, slots=True)
class Interlock:
    """One row of the table. `consequence` and `remedy` are what the alarm tells a person."""

    cause: Cause
    test: Callable[[Situation, Rig], bool]
    delay_s: float
    response: Response
    blocks: frozenset[Output]
    clear: Clear
    priority: Priority
    consequence: str
    remedy: str


ALL = frozenset(Output)
WET = frozenset({Output.FILL, Output.DOSE})
STIRRED = frozenset(
    {StepKind.CONDITION, StepKind.AGITATE, StepKind.DOSE, StepKind.RINSE, StepKind.MIX, StepKind.REBOUND}
)
MOVING = ALL - {Output.STIR}
LEAK_BY_L = 3.0
SUPPLY_DRY_S = 20.0
STALL_S = 4.0
LONG_HOLD_S = 3600.0


def _tripped(now: Situation) -> bool:
    return now.image.board is not None and bool(now.image.board.trips)


def _any_high_float(now: Situation) -> bool:
    board = now.image.board
    return now.image.panel.high_float or (board is not None and board.high_float)


def _enable_lost(now: Situation) -> bool:
    board = now.image.board
    wanted = (
        now.driven.stir or now.driven.permit or now.driven.dose is not None or now.driven.fill is not None
    )
    return wanted and board is not None and not board.enabled


def _restarted(now: Situation) -> bool:
    board = now.image.board
    return board is not None and now.boot_id_expected is not None and board.boot_id != now.boot_id_expected


def _fill_disagrees(now: Situation, rig: Rig) -> bool:
    if now.trouble is not None and now.trouble.cause is Cause.FILL_DISAGREES:
        return True
    return now.fill is not None and abs(now.fill.level_rise_l - now.fill.flow_l) > rig.fill.disagreement_l


def _level_lost(now: Situation, _rig: Rig) -> bool:
    wanted = now.kind is StepKind.FILL or now.driven.dose is not None
    return wanted and now.image.board is not None and now.readings.level_l is None


def _from_phase(cause: Cause) -> Callable[[Situation, Rig], bool]:
    return lambda now, _rig: now.trouble is not None and now.trouble.cause is cause


def _phase_row(
    cause: Cause, response: Response, priority: Priority, consequence: str, remedy: str
) -> Interlock:
    """Make the row of a cause that a phase reports: judged at once, and never gone without a person."""
    return Interlock(
        cause, _from_phase(cause), 0.0, response, WET, Clear.ACKNOWLEDGED, priority, consequence, remedy
    )


TABLE: tuple[Interlock, ...] = (
    Interlock(
        Cause.ESTOP,
        lambda now, _rig: not now.image.panel.estop_ok,
        0.0,
        Response.ABORT,
        ALL,
        Clear.ACKNOWLEDGED,
        Priority.HIGH,
        "The batch is aborted and all power to pumps and valve is off.",
        "Make the rig safe, release the emergency stop, acknowledge, then judge the tank before you use it.",
    ),
    Interlock(
        Cause.LEAK,
        lambda now, _rig: now.image.board is not None and now.image.board.leak,
        0.0,
        Response.ABORT,
        ALL,
        Clear.ACKNOWLEDGED,
        Priority.HIGH,
        "The batch is aborted; everything is off.",
        "Shut the supply tap, find the leak, dry the sensor, reset the board at the rig.",
    ),
    Interlock(
        Cause.HIGH_FLOAT,
        lambda now, _rig: _any_high_float(now),
        0.0,
        Response.STOP,
        WET | {Output.PERMIT},
        Clear.ACKNOWLEDGED,
        Priority.HIGH,
        "The batch is stopped; the tank is fuller than planned and its strength is unknown.",
        "Shut the supply tap, look at the level and both floats, drain what is too much.",
    ),
    Interlock(
        Cause.VALVE_LEAKS_BY,
        lambda now, _rig: now.still_rise_l > LEAK_BY_L,
        5.0,
        Response.ABORT,
        ALL,
        Clear.ACKNOWLEDGED,
        Priority.HIGH,
        "Water runs in although the valve is shut; the tank may overflow.",
        "Shut the supply tap by hand and replace or clean the fill valve.",
    ),
    Interlock(
        Cause.BOARD_TRIPPED,
        lambda now, _rig: _tripped(now),
        0.0,
        Response.HOLD,
        ALL,
        Clear.ACKNOWLEDGED,
        Priority.HIGH,
        "The board switched itself off and stays off; the batch is held.",
        "Mend what the board names as its first trip, press its reset, then acknowledge and resume or stop.",
    ),
    Interlock(
        Cause.BOARD_RESTARTED,
        lambda now, _rig: _restarted(now),
        0.0,
        Response.HOLD,
        ALL,
        Clear.ACKNOWLEDGED,
        Priority.HIGH,
        "The board forgot its counts; for a dose under way a second alarm states what is not proven.",
        "Check the board's supply, then acknowledge and resume, or stop.",
    ),
    Interlock(
        Cause.BOARD_SILENT,
        lambda now, _rig: now.image.board is None,
        1.0,
        Response.HOLD,
        ALL,
        Clear.BY_ITSELF,
        Priority.HIGH,
        "The board does not answer; it has switched its outputs off by itself.",
        "Check the board's cable and supply, then resume.",
    ),
    Interlock(
        Cause.ENABLE_LOST,
        lambda now, _rig: _enable_lost(now),
        2.0,
        Response.HOLD,
        ALL,
        Clear.BY_ITSELF,
        Priority.HIGH,
        "The outputs have no power although they are asked for; the batch is held.",
        "Check the emergency-stop circuit and the enable relay, then resume.",
    ),
    Interlock(
        Cause.GUARD_REFUSED,
        lambda now, _rig: now.guard_refused is not None,
        0.0,
        Response.ABORT,
        ALL,
        Clear.ACKNOWLEDGED,
        Priority.HIGH,
        "The controller asked for something forbidden; everything is off.",
        "This is a fault in the program: keep the record and report it; judge the tank by hand.",
    ),
    Interlock(
        Cause.RECORD_FAULT,
        lambda now, _rig: now.record_fault is not None,
        0.0,
        Response.HOLD,
        WET,
        Clear.BY_ITSELF,
        Priority.HIGH,
        "Nothing more is dosed, because it could not be proved afterwards.",
        "Free space on the disk or mend it, then resume.",
    ),
    Interlock(
        Cause.SELECTOR_OFF,
        lambda now, _rig: now.image.panel.selector in (Selector.OFF, Selector.IMPOSSIBLE),
        0.0,
        Response.HOLD,
        ALL,
        Clear.BY_ITSELF,
        Priority.LOW,
        "The batch is held; everything is off.",
        "Turn the selector to AUTO, then resume.",
    ),
    Interlock(
        Cause.SELECTOR_HAND,
        lambda now, _rig: now.image.panel.selector is Selector.HAND,
        0.0,
        Response.HOLD,
        MOVING,
        Clear.BY_ITSELF,
        Priority.LOW,
        "The batch is held; the stir pump runs by hand.",
        "Turn the selector to AUTO, then resume.",
    ),
    Interlock(
        Cause.SUPPLY_FAILED,
        lambda now, _rig: now.fill is not None and now.fill.dry_s > SUPPLY_DRY_S,
        0.0,
        Response.HOLD,
        WET,
        Clear.ACKNOWLEDGED,
        Priority.HIGH,
        "No water comes in; the batch is held.",
        "Open the supply tap, clean the inlet strainer, then acknowledge and resume.",
    ),
    Interlock(
        Cause.FILL_DISAGREES,
        _fill_disagrees,
        5.0,
        Response.HOLD,
        WET,
        Clear.ACKNOWLEDGED,
        Priority.HIGH,
        "Level sensor and flow meter tell different volumes; one of them lies.",
        "Read the tank by eye, clean sensor and flow meter, then acknowledge and resume or stop.",
    ),
    Interlock(
        Cause.LEVEL_LOST,
        _level_lost,
        2.0,
        Response.HOLD,
        WET,
        Clear.ACKNOWLEDGED,
        Priority.HIGH,
        "The level is unknown; nothing runs into the tank.",
        "Clean or reconnect the level sensor, then acknowledge and resume.",
    ),
    Interlock(
        Cause.PUMP_STALLED,
        lambda now, _rig: now.stalled_s > STALL_S,
        0.0,
        Response.HOLD,
        WET,
        Clear.ACKNOWLEDGED,
        Priority.HIGH,
        "The pump was told to turn and does not; the dose is incomplete.",
        "Free the pump head, check its cable, then acknowledge and resume.",
    ),
    Interlock(
        Cause.LOW_FLOAT,
        lambda now, _rig: now.image.panel.low_float and now.kind not in STIRRED,
        0.0,
        Response.NONE,
        frozenset({Output.STIR, Output.DOSE}),
        Clear.BY_ITSELF,
        Priority.LOW,
        "The stir pump must not run dry.",
        "Nothing to do while the tank is being filled or fed.",
    ),
    Interlock(
        Cause.RUN_DRY,
        lambda now, _rig: now.image.panel.low_float and now.kind in STIRRED,
        0.0,
        Response.HOLD,
        WET | {Output.STIR},
        Clear.ACKNOWLEDGED,
        Priority.HIGH,
        "The tank is lower than it can be at this step; the stir pump would run dry.",
        "Look for a leak or an open drain, and at the low float; then acknowledge and resume, or stop.",
    ),
    _phase_row(
        Cause.PRECONDITION,
        Response.STOP,
        Priority.HIGH,
        "Tonight's batch does not start.",
        "Put right what the text names, then start again.",
    ),
    _phase_row(
        Cause.WATER_TEMPERATURE,
        Response.HOLD,
        Priority.MEDIUM,
        "The water is too cold or too warm for the inputs; the batch waits.",
        "Let the water come to temperature, then resume, or stop.",
    ),
    _phase_row(
        Cause.PROBE_DOUBTFUL,
        Response.STOP,
        Priority.HIGH,
        "pH cannot be trusted; the tank is quarantined.",
        "Clean and calibrate the probe, read the tank by hand before you feed it.",
    ),
    _phase_row(
        Cause.TRIM_FAILED,
        Response.STOP,
        Priority.HIGH,
        "pH is outside its window; the tank is quarantined.",
        "Read pH by hand, correct by hand or discard.",
    ),
    _phase_row(
        Cause.DOSE_UNPROVEN,
        Response.HOLD,
        Priority.HIGH,
        "An amount is uncertain; the batch is held until a person has decided.",
        "If it is harmless, acknowledge and resume: the rest is not dosed. If not, stop.",
    ),
    _phase_row(
        Cause.STEP_OVERDUE,
        Response.HOLD,
        Priority.MEDIUM,
        "The batch waits for something that does not come, and is held.",
        "Look at the rig and at the step named, then acknowledge and resume or stop.",
    ),
    _phase_row(
        Cause.TANK_UNFIT,
        Response.STOP,
        Priority.HIGH,
        "The tank is quarantined; the feed permit stays off.",
        "Read the reason in the record; correct by hand or discard.",
    ),
    _phase_row(
        Cause.PERMIT_WITHDRAWN,
        Response.STOP,
        Priority.HIGH,
        "The tank must no longer be fed.",
        "Read pH by hand; discard what is too old.",
    ),
    Interlock(
        Cause.HELD_LONG,
        lambda now, _rig: now.held_s > LONG_HOLD_S,
        0.0,
        Response.STOP,
        WET,
        Clear.ACKNOWLEDGED,
        Priority.MEDIUM,
        "The batch was held for too long and is stopped; the tank is quarantined.",
        "Judge the tank by hand.",
    ),
)
