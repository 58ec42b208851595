"""Causes that the scale under a bottle shows: a dose that does not leave it, or too much of it, a worn tube.

Rows only. Two of them advise: the batch goes on, and a person has something to do by day.
"""

from __future__ import annotations

from controller.measure.tube import REFUSE_SHARE, WARN_SHARE
from controller.measure.weight_loss import MISSING_SHARE
from controller.plan.stock import OVER_SHARE, allowed_short_share
from controller.run.interlock_row import WET, Clear, Interlock, Priority, Response, reported
from controller.run.situation import Cause
from controller.settings.values import Site


def _missing(site: Site) -> str:
    short = allowed_short_share(site.policy.stock)
    return (
        f"beyond doubt by scale: {MISSING_SHARE * 100:g} % of what a turning pump counts does not leave its "
        f"bottle, or a dose, topped up once, is short by more than {short * 100:g} %; or by level: less "
        "arrived than was moved"
    )


def _excess(_site: Site) -> str:
    return f"beyond doubt by the scale: {OVER_SHARE * 100:g} % more than the dose left the bottle"


def _off(words: str, share: float) -> str:
    return f"{words} its weighed doses show a tube more than {share * 100:g} % off the pump's calibration"


ROWS = (
    Interlock(
        cause=Cause.DOSE_MISSING,
        trip=reported(Cause.DOSE_MISSING, _missing),
        response=Response.HOLD,
        blocks=WET,
        clear=Clear.ACKNOWLEDGED,
        priority=Priority.HIGH,
        consequence="What is counted does not reach the tank; the batch is held until a person has decided.",
        remedy="See to bottle, tube and pump head as the text says, then acknowledge and resume, or stop.",
    ),
    Interlock(
        cause=Cause.DOSE_EXCESS,
        trip=reported(Cause.DOSE_EXCESS, _excess),
        response=Response.HOLD,
        blocks=WET,
        clear=Clear.ACKNOWLEDGED,
        priority=Priority.HIGH,
        consequence="More went into the tank, or to the floor, than was asked for; the batch is held.",
        remedy="Look where it went; if the tank may have it, acknowledge and resume, else stop.",
    ),
    Interlock(
        cause=Cause.PUMP_DRIFTED,
        trip=reported(Cause.PUMP_DRIFTED, lambda _site: _off("before a dose:", REFUSE_SHARE)),
        response=Response.HOLD,
        blocks=WET,
        clear=Clear.ACKNOWLEDGED,
        priority=Priority.HIGH,
        consequence="The tube is worn out, or not the one that was calibrated; nothing is dosed with it yet.",
        remedy="Calibrate it or change its tube; or acknowledge and resume to dose by the scale, or stop.",
    ),
    Interlock(
        cause=Cause.PUMP_DRIFTS,
        trip=reported(Cause.PUMP_DRIFTS, lambda _site: _off("after a dose:", WARN_SHARE)),
        response=Response.NONE,
        blocks=frozenset(),
        clear=Clear.ACKNOWLEDGED,
        priority=Priority.LOW,
        consequence="The tube ages; doses are metered by what the scale has shown, and the batch goes on.",
        remedy="Change the tube and calibrate the pump before the next night.",
        advises=True,
    ),
    Interlock(
        cause=Cause.SCALE_LOST,
        trip=reported(
            Cause.SCALE_LOST,
            lambda _site: "at a dose: no still weight in time, or a weight that no pump can bring about",
        ),
        response=Response.NONE,
        blocks=frozenset(),
        clear=Clear.ACKNOWLEDGED,
        priority=Priority.MEDIUM,
        consequence="The dose was counted and not weighed; the batch goes on.",
        remedy="Free the scale, check its cable, and see by eye what the bottle has lost.",
        advises=True,
    ),
)
