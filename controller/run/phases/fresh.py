"""What trim and release both need before they judge: a level, sound probes, and a pH reading that is not old.

It waits, has the reading taken again, or says that the probes have become doubtful; the judging is theirs.
"""

from __future__ import annotations

from controller.plan.making import settle_and_measure
from controller.plan.steps import Release, Trim
from controller.run.phases.phase import Turn, View
from controller.run.situation import Cause, Trouble

LOOK_FOR_S = 3.0
LOOK_S = 0.5


def not_yet(view: View, level_l: float | None, step: Trim | Release) -> Turn | None:
    """Give the turn that waits, measures anew before this step, or ends; None when it may judge."""
    if level_l is None and view.elapsed_s < LOOK_FOR_S:
        return Turn(wake_s=view.now_s + LOOK_S)
    if not view.readings.ph_proven:
        # The reading was accepted from probes that are doubted now: it may have been wrong already.
        if view.elapsed_s < LOOK_FOR_S:
            return Turn(wake_s=view.now_s + LOOK_S)
        trouble = Trouble(Cause.PROBE_DOUBTFUL, view.readings.ph_why)
        return Turn(wake_s=view.now_s, trouble=trouble)
    if view.memory.reading_is_old(view.now_s):
        again = (*settle_and_measure(view.site), step)
        return Turn(wake_s=view.now_s, done=True, note="the reading is old: measure again", insert=again)
    return None
