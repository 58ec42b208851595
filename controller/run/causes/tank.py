"""Causes seen at the tank and the pumps: supply, level, flow, foam, a pump that stands, a tank that is low.

Rows only; what needs several scans to be seen is measured by `watch.py`.
"""

from __future__ import annotations

from controller.plan.steps import StepKind
from controller.run.interlock_row import (
    WET,
    Clear,
    Interlock,
    Output,
    Priority,
    Response,
    TripPoint,
    above,
    seen,
)
from controller.run.phases.fill import CALM_S
from controller.run.situation import Cause, Situation
from controller.settings.values import Rig, Site

SUPPLY_DRY_S = 20.0
STALL_S = 4.0
# Some 5 mm in the demo tank; a smoothed level with air or fill on was seen to wander by a third of it.
FOAM_L = 1.5
FALL_L = 2.0
STIRRED = frozenset(
    {StepKind.CONDITION, StepKind.AGITATE, StepKind.DOSE, StepKind.RINSE, StepKind.MIX, StepKind.REBOUND}
)
# Before the tank is released nobody draws from it. While it is kept, feeding lowers it.
UNFED = STIRRED | {StepKind.SETTLE, StepKind.MEASURE, StepKind.TRIM, StepKind.RELEASE}
NO_POWER = frozenset({Cause.ESTOP, Cause.BOARD_SILENT, Cause.BOARD_TRIPPED, Cause.BOARD_RESTARTED})
DEAF = NO_POWER | {Cause.ENABLE_LOST, Cause.STALE_INPUT}
LEVEL_FAMILY = frozenset({Cause.LEVEL_LOST, Cause.FILL_DISAGREES, Cause.FOAM, Cause.SUPPLY_FAILED})


def _fill_disagrees(now: Situation, rig: Rig) -> bool:
    if now.trouble is not None and now.trouble.cause is Cause.FILL_DISAGREES:
        return True
    return now.fill is not None and abs(now.fill.level_rise_l - now.fill.flow_l) > rig.fill.disagreement_l


def _fill_words(site: Site) -> str:
    fill = site.rig.fill
    return (
        f"while filling, level rise and flow differ by more than {fill.disagreement_l:g} L; or {CALM_S:g} s "
        f"into a fill step the tank holds {fill.disagreement_l:g} L less, or "
        f"{fill.disagreement_l + fill.pipe_ml / 1000:g} L more, than the plan left in it"
    )


def _level_lost(now: Situation) -> bool:
    into_tank = now.driven.dose is not None and now.kind is not StepKind.DELIVER
    wanted = now.kind is StepKind.FILL or into_tank
    return wanted and now.image.board is not None and now.readings.level_l is None


def _level_falls(now: Situation, _rig: Rig) -> bool:
    if now.trouble is not None and now.trouble.cause is Cause.LEVEL_FALLS:
        return True
    return now.kind in UNFED and now.sinking_l > FALL_L


def _fall_words(_site: Site) -> str:
    return (
        f"between the first fill and the release, smoothed level fall above {FALL_L:g} L with the valve "
        "shut; or the still tank holds less than at the look before"
    )


def _low(site: Site, when: str) -> str:
    return f"low float down ({site.rig.tank.low_float_l:g} L) {when}"


ROWS = (
    Interlock(
        cause=Cause.SUPPLY_FAILED,
        trip=above(
            "seconds without flow while the valve is open",
            lambda now: 0.0 if now.fill is None else now.fill.dry_s,
            SUPPLY_DRY_S,
            "s",
        ),
        response=Response.HOLD,
        blocks=WET,
        clear=Clear.ACKNOWLEDGED,
        priority=Priority.HIGH,
        consequence="No water comes in; the batch is held.",
        remedy="Open the supply tap, clean the inlet strainer, then acknowledge and resume.",
        behind=DEAF,
        follows=LEVEL_FAMILY,
    ),
    Interlock(
        cause=Cause.FILL_DISAGREES,
        trip=TripPoint(_fill_disagrees, _fill_words, voting="2 of 2"),
        delay_s=5.0,
        response=Response.HOLD,
        blocks=WET,
        clear=Clear.ACKNOWLEDGED,
        priority=Priority.HIGH,
        consequence="Level sensor and flow meter tell different volumes; one of them lies.",
        remedy="Read the tank by eye, clean sensor and flow meter, then acknowledge and resume or stop.",
        behind=DEAF,
        follows=LEVEL_FAMILY,
    ),
    Interlock(
        cause=Cause.LEVEL_LOST,
        trip=seen("no plausible level while filling or dosing", _level_lost),
        delay_s=2.0,
        response=Response.HOLD,
        blocks=WET,
        clear=Clear.ACKNOWLEDGED,
        priority=Priority.HIGH,
        consequence="The level is unknown; nothing runs into the tank.",
        remedy="Clean or reconnect the level sensor, then acknowledge and resume.",
        behind=DEAF,
        follows=LEVEL_FAMILY,
    ),
    Interlock(
        cause=Cause.FOAM,
        trip=above(
            "smoothed level rise that no flow explains, with air or fill on",
            lambda now: now.foam_l,
            FOAM_L,
            "L",
        ),
        delay_s=3.0,
        response=Response.HOLD,
        blocks=WET | {Output.AIR},
        clear=Clear.ACKNOWLEDGED,
        priority=Priority.MEDIUM,
        consequence="The level rises and nothing that was let in explains it: foam, most likely, which may "
        "run over; the batch is held with the air off.",
        remedy="Look into the tank and wait until the foam has sunk, then acknowledge and resume, or stop.",
        behind=DEAF | {Cause.VALVE_LEAKS_BY},
        follows=LEVEL_FAMILY,
    ),
    Interlock(
        cause=Cause.LEVEL_FALLS,
        trip=TripPoint(_level_falls, _fall_words),
        delay_s=3.0,
        response=Response.HOLD,
        blocks=WET,
        clear=Clear.ACKNOWLEDGED,
        priority=Priority.HIGH,
        consequence="The tank runs out somewhere, or the level sensor lies; the batch is held.",
        remedy="Look for an open drain, a leak, a sensor that moved; then acknowledge and resume, or stop.",
        behind=DEAF,
        follows=LEVEL_FAMILY,
    ),
    Interlock(
        cause=Cause.PUMP_STALLED,
        trip=above(
            "seconds without a count while a pump is told to turn", lambda now: now.stalled_s, STALL_S, "s"
        ),
        response=Response.HOLD,
        blocks=WET,
        clear=Clear.ACKNOWLEDGED,
        priority=Priority.HIGH,
        consequence="The pump was told to turn and does not; the dose is incomplete.",
        remedy="Free the pump head, check its cable, then acknowledge and resume.",
        behind=DEAF,
    ),
    Interlock(
        cause=Cause.LOW_FLOAT,
        trip=TripPoint(
            lambda now, _rig: now.image.panel.low_float and now.kind not in STIRRED | {StepKind.DELIVER},
            lambda site: _low(site, "in a step that does not stir"),
        ),
        response=Response.NONE,
        blocks=frozenset({Output.STIR, Output.DOSE}),
        clear=Clear.BY_ITSELF,
        priority=Priority.LOW,
        consequence="The stir pump must not run dry.",
        remedy="Nothing to do while the tank is being filled or fed.",
    ),
    Interlock(
        cause=Cause.RUN_DRY,
        trip=TripPoint(
            lambda now, _rig: now.image.panel.low_float and now.kind in STIRRED,
            lambda site: _low(site, "in a step that stirs"),
        ),
        response=Response.HOLD,
        blocks=WET | {Output.STIR},
        clear=Clear.ACKNOWLEDGED,
        priority=Priority.HIGH,
        consequence="The tank is lower than it can be at this step; the stir pump would run dry.",
        remedy="Look for a leak, an open drain, a low float that lies; then acknowledge and resume, or stop.",
    ),
)
