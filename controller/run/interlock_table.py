"""The interlock table: every cause once, in the order in which equal responses are told.

The table is the whole truth about what stops what; `interlocks.py` applies and times it. No row drives
anything: the sequence reacts to the response, the guard to the blocked outputs.
To add one: a `Cause` in `situation.py`, a row in its family under `causes/`, a driver in the test book.
"""

from __future__ import annotations

from controller.run.causes import batch, doses, emergency, machine, selector, tank
from controller.run.interlock_row import Interlock
from controller.run.situation import Cause

TABLE: tuple[Interlock, ...] = (
    *emergency.ROWS,
    *machine.ROWS,
    *selector.ROWS,
    *tank.ROWS,
    *doses.ROWS,
    *batch.ROWS,
)
ROW_OF: dict[Cause, Interlock] = {row.cause: row for row in TABLE}
