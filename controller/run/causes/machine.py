"""Causes inside the machine: the board, the line to it, the enable, the program itself and its record.

Rows only. What the board does by itself is in its own firmware.
"""

from __future__ import annotations

from controller.run.interlock_row import ALL, WET, Clear, Interlock, Priority, Response, above, seen
from controller.run.situation import Cause, Situation

# The board lets an output go after 2 s of silence; an image that stands still is doubted before that.
STALE_S = 1.0


def _tripped(now: Situation) -> bool:
    return now.image.board is not None and bool(now.image.board.trips)


def _restarted(now: Situation) -> bool:
    board = now.image.board
    return board is not None and now.boot_id_expected is not None and board.boot_id != now.boot_id_expected


def _enable_lost(now: Situation) -> bool:
    board, driven = now.image.board, now.driven
    wanted = driven.stir or driven.permit or driven.dose is not None or driven.fill is not None
    return wanted and board is not None and not board.enabled


ROWS = (
    Interlock(
        cause=Cause.BOARD_TRIPPED,
        trip=seen("the board tells any trip of its own", _tripped),
        response=Response.HOLD,
        blocks=ALL,
        clear=Clear.ACKNOWLEDGED,
        priority=Priority.HIGH,
        consequence="The board switched itself off and stays off; the batch is held.",
        remedy="Mend what the board names as its first trip, press its reset, then acknowledge and resume "
        "or stop.",
        behind=frozenset({Cause.ESTOP, Cause.LEAK, Cause.HIGH_FLOAT, Cause.BOARD_SILENT}),
    ),
    Interlock(
        cause=Cause.BOARD_RESTARTED,
        trip=seen("the board tells another boot id than the batch began with", _restarted),
        response=Response.HOLD,
        blocks=ALL,
        clear=Clear.ACKNOWLEDGED,
        priority=Priority.HIGH,
        consequence="The board forgot its counts; for a dose under way a second alarm states what is not "
        "proven.",
        remedy="Check the board's supply, then acknowledge and resume, or stop.",
        behind=frozenset({Cause.ESTOP}),
        follows=frozenset({Cause.BOARD_SILENT, Cause.BOARD_TRIPPED, Cause.STALE_INPUT}),
    ),
    Interlock(
        cause=Cause.BOARD_SILENT,
        trip=seen("no image from the board", lambda now: now.image.board is None),
        delay_s=1.0,
        response=Response.HOLD,
        blocks=ALL,
        clear=Clear.BY_ITSELF,
        priority=Priority.HIGH,
        consequence="The board does not answer; it has switched its outputs off by itself.",
        remedy="Check the board's cable and supply, then resume.",
        behind=frozenset({Cause.ESTOP}),
        follows=frozenset({Cause.BOARD_RESTARTED, Cause.BOARD_TRIPPED, Cause.STALE_INPUT}),
    ),
    Interlock(
        cause=Cause.STALE_INPUT,
        trip=above("seconds since the board's own clock last moved", lambda now: now.stale_s, STALE_S, "s"),
        response=Response.HOLD,
        blocks=ALL,
        clear=Clear.ACKNOWLEDGED,
        priority=Priority.HIGH,
        consequence="The board's readings stand still: nothing is known of the tank; the batch is held.",
        remedy="Check the board's cable and restart the board, then acknowledge and resume, or stop.",
        behind=frozenset({Cause.ESTOP}),
        follows=frozenset({Cause.BOARD_SILENT, Cause.BOARD_RESTARTED, Cause.BOARD_TRIPPED}),
    ),
    Interlock(
        cause=Cause.ENABLE_LOST,
        trip=seen("an output is asked for and the board's enable is off", _enable_lost),
        delay_s=2.0,
        response=Response.HOLD,
        blocks=ALL,
        clear=Clear.BY_ITSELF,
        priority=Priority.HIGH,
        consequence="The outputs have no power although they are asked for; the batch is held.",
        remedy="Check the emergency-stop circuit and the enable relay, then resume.",
        behind=frozenset({Cause.ESTOP, Cause.BOARD_TRIPPED, Cause.BOARD_RESTARTED, Cause.BOARD_SILENT}),
        follows=frozenset({Cause.STALE_INPUT, Cause.LEAK, Cause.HIGH_FLOAT}),
    ),
    Interlock(
        cause=Cause.GUARD_REFUSED,
        trip=seen("the guard refused the last request", lambda now: now.guard_refused is not None),
        response=Response.ABORT,
        blocks=ALL,
        clear=Clear.ACKNOWLEDGED,
        priority=Priority.HIGH,
        consequence="The controller asked for something forbidden; everything is off.",
        remedy="Judge the tank by hand; this is a fault in the program: keep the record and report it.",
    ),
    Interlock(
        cause=Cause.RECORD_FAULT,
        trip=seen("the record's writer tells a fault", lambda now: now.record_fault is not None),
        response=Response.HOLD,
        blocks=WET,
        clear=Clear.BY_ITSELF,
        priority=Priority.HIGH,
        consequence="Nothing more is dosed, because it could not be proved afterwards.",
        remedy="Free space on the disk or mend it, then resume.",
    ),
)
