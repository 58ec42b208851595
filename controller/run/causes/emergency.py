"""Causes that can hurt someone or flood the floor: emergency stop, leak, high floats, a valve that passes.

Rows only; none of them is ever explained away by another alarm.
"""

from __future__ import annotations

from controller.run.interlock_row import (
    ALL,
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
from controller.run.situation import Cause, Situation
from controller.settings.values import Site

LEAK_BY_L = 3.0


def _leak(now: Situation) -> bool:
    return now.image.board is not None and now.image.board.leak


def _any_high_float(now: Situation) -> bool:
    board = now.image.board
    return now.image.panel.high_float or (board is not None and board.high_float)


def _float_words(site: Site) -> str:
    tank = site.rig.tank
    return f"board's float up ({tank.high_float_l:g} L) or second float up ({tank.second_high_float_l:g} L)"


ROWS = (
    Interlock(
        cause=Cause.ESTOP,
        trip=seen("status contact open: pressed, or its wire cut", lambda now: not now.image.panel.estop_ok),
        response=Response.ABORT,
        blocks=ALL,
        clear=Clear.ACKNOWLEDGED,
        priority=Priority.HIGH,
        consequence="The batch is aborted and all power to pumps and valve is off.",
        remedy="Make the rig safe, release the emergency stop, acknowledge, then judge the tank by hand.",
    ),
    Interlock(
        cause=Cause.LEAK,
        trip=seen("leak sensor wet", _leak),
        response=Response.ABORT,
        blocks=ALL,
        clear=Clear.ACKNOWLEDGED,
        priority=Priority.HIGH,
        consequence="The batch is aborted; everything is off.",
        remedy="Shut the supply tap, find the leak, dry the sensor, reset the board at the rig.",
    ),
    Interlock(
        cause=Cause.HIGH_FLOAT,
        trip=TripPoint(lambda now, _rig: _any_high_float(now), _float_words, voting="1 of 2"),
        response=Response.STOP,
        blocks=WET | {Output.PERMIT},
        clear=Clear.ACKNOWLEDGED,
        priority=Priority.HIGH,
        consequence="The batch is stopped; the tank is fuller than planned and its strength is unknown.",
        remedy="Shut the supply tap, look at the level and both floats, drain what is too much.",
    ),
    Interlock(
        cause=Cause.VALVE_LEAKS_BY,
        trip=above("rise with the valve shut and no dose", lambda now: now.still_rise_l, LEAK_BY_L, "L"),
        delay_s=5.0,
        response=Response.ABORT,
        blocks=ALL,
        clear=Clear.ACKNOWLEDGED,
        priority=Priority.HIGH,
        consequence="Water runs in although the valve is shut; the tank may overflow.",
        remedy="Shut the supply tap by hand and replace or clean the fill valve.",
    ),
)
