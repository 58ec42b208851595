"""What comes before a new batch when an earlier run of the program was cut off: its open ends are closed.

Nothing is carried on. What is left open is found, and worded, by `unfinished.py`.
"""

from __future__ import annotations

from pathlib import Path

from controller.record.fault import RecordFault
from controller.record.journal import Journal
from controller.record.writer import InlineWriter, WallClock
from controller.run.request import ALL_OFF, RigPort
from controller.service.pace import SCAN_S, Pace
from controller.service.unfinished import BoardMotions, find_unfinished
from controller.settings.values import Site

LONGEST_LEASE_S = 2.0


def close_cut_off(
    site: Site, port: RigPort, pace: Pace, record: Path, wall_at: WallClock, motions: BoardMotions
) -> None:
    """Close what an earlier run left open, whatever becomes of the batch that is wanted now.

    The board forgets its counts when it loses its power. They are asked for only when its motor is seen to
    stand; otherwise nothing is proven of the open doses. Raises RecordFault when that cannot be written.
    """
    if not record.exists():
        return
    with Journal(record) as journal:
        unfinished = find_unfinished(journal)
        writer = InlineWriter(journal, wall_at)
        still = not unfinished.doses or _stands_still(port, pace)
        unfinished.close(writer, motions if still else _nobody_knows, site, pace.now_s())
        if writer.fault is not None:
            remedy = "free space on the disk, then start again"
            raise RecordFault(journal.path, writer.fault, remedy)


def _stands_still(port: RigPort, pace: Pace) -> bool:
    """Switch everything off until the board says that no motor turns; give up after its longest lease."""
    began_s = pace.now_s()
    while pace.now_s() - began_s <= LONGEST_LEASE_S:
        port.write(ALL_OFF)
        board = port.read().board
        if board is not None and not board.motion.running:
            return True
        pace.wait(pace.now_s() + SCAN_S)
    return False


def _nobody_knows() -> None:
    """Stand in for a board that cannot be asked."""
