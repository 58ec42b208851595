"""What trim and release both need before they judge: a level, and a pH reading that is not old.

It only waits or has the reading taken again; the judging is theirs.
"""

from __future__ import annotations

from controller.plan.making import settle_and_measure
from controller.plan.steps import Release, Trim
from controller.run.phases.phase import Turn, View

LOOK_FOR_S = 3.0
LOOK_S = 0.5


def not_yet(view: View, level_l: float | None, step: Trim | Release) -> Turn | None:
    """Give the turn that waits for a level, or measures anew before this step; None when it may judge."""
    if level_l is None and view.elapsed_s < LOOK_FOR_S:
        return Turn(wake_s=view.now_s + LOOK_S)
    if view.memory.reading_is_old(view.now_s):
        again = (*settle_and_measure(view.site), step)
        return Turn(wake_s=view.now_s, done=True, note="the reading is old: measure again", insert=again)
    return None
