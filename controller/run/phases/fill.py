"""Fill: run the supply until the tank holds the wanted volume, with stir and air off.

The level sensor is the judge; the flow meter smooths it, because the surface waves while water falls in.
A level that is not the one the plan left behind is told before the valve opens. Disagreement of level and
flow, a dry supply and the floats are the interlocks' matter. Before the top-up the still tank tells whether
all that was dosed and rinsed since the first fill has come: the same offset stands in both looks.
"""

from __future__ import annotations

import math
from dataclasses import replace

from controller.measure.level import litres_per_mm
from controller.plan.counted_only import heel_foam_l
from controller.plan.steps import Fill
from controller.run.amending import amended_on_disk, held_against_level
from controller.run.arrived import StillLook
from controller.run.phases.phase import PlainPhase, Turn, View
from controller.run.request import FillCommand, Request
from controller.run.situation import Cause, Trouble

CALM_S = 4.0
LOOK_S = 2.0
ASK_AGAIN_S = 0.05
SMOOTHING_S = 20.0
DRIP_S = 4.0
RUN_OUT_S = 6.0
OPEN_MARGIN = 1.5
OPEN_LEAST_MS = 5_000
OPEN_LONGEST_MS = 900_000
OPENS_WITHIN_S = 1.0


class FillPhase(PlainPhase):
    """Open the valve, close it early by what the pipe still holds, wait for the drip.

    An opening that has ended, by its own time or because a reading was missing, never opens again: the next
    one has a fresh id, and is asked for only when the board says that the valve is shut.
    """

    def __init__(self, step: Fill) -> None:
        self._step = step
        self._command: FillCommand | None = None
        self._asked_s = 0.0
        self._broken = False
        self._offset_l: float | None = None
        self._looked_s: float | None = None
        self._expected_l = step.from_l
        self._seen_l: float | None = None
        self._calm_from_s = 0.0
        self._checked = False
        self._told = False
        self._closed_s: float | None = None
        self._look: StillLook | None = None
        self._counted = not step.top_up
        self._note = ""

    def scan(self, view: View) -> Turn:
        """Ask for the valve until the level, led by the flow meter, says enough."""
        if self._closed_s is not None:
            return self._drip(view, self._closed_s)
        level_l = self._level_l(view)
        if level_l is None:
            self._broken = self._command is not None
            return Turn(wake_s=view.now_s + LOOK_S)
        if not self._checked:
            return self._check(view, level_l)
        self._seen_l = level_l
        return self._fill(view, level_l) if self._counted else self._count(view)

    def resume(self, view: View) -> None:
        """Open anew, after another look at the level; one that was told has been looked at by a person."""
        self._broken = self._command is not None
        self._expected_l = self._expected_l if self._seen_l is None else self._seen_l
        self._checked, self._told = self._told, False
        self._calm_from_s = view.elapsed_s
        self._offset_l = self._looked_s = self._look = None

    def _count(self, view: View) -> Turn:
        """Hold the rise of the still tank since the first fill against the sum of what was moved."""
        arrivals = view.memory.arrivals
        look, wake_s = self._still(view)
        if arrivals.follows and not look.over:
            return Turn(wake_s=wake_s)
        trouble, self._note = held_against_level(view, look.level, whole=True)
        # What comes in now is water: the next look is that of the settled tank.
        arrivals.begin(None)
        self._counted, self._look = True, None
        return Turn(wake_s=view.now_s, trouble=trouble)

    def _still(self, view: View, calm_s: float = 0.0) -> tuple[StillLook, float]:
        """Go on with a look at the tank, which has been calm for a while already."""
        self._look = self._look or StillLook(litres_per_mm(view.site.rig.tank), calm_s)
        return self._look, self._look.look(view.now_s, view.readings.level_l)

    def _check(self, view: View, level_l: float) -> Turn:
        """Let the level calm, and tell if it is not what was left; the pipe may have run out meanwhile."""
        calm_s = self._calm_from_s + CALM_S
        if view.elapsed_s < calm_s:
            return Turn(wake_s=view.now_s + calm_s - view.elapsed_s)
        fill = view.site.rig.fill
        off_l = level_l - self._expected_l
        if off_l < -fill.disagreement_l or off_l > fill.disagreement_l + fill.pipe_ml / 1000:
            self._told = True
            return Turn(wake_s=view.now_s + LOOK_S, trouble=self._unexpected(level_l))
        self._checked = True
        return self._fill(view, level_l) if self._counted else self._count(view)

    def _fill(self, view: View, level_l: float) -> Turn:
        if not amended_on_disk(view):
            return Turn(wake_s=view.now_s + ASK_AGAIN_S)
        missing_l = self._step.to_l - view.site.rig.fill.pipe_ml / 1000 - level_l
        if missing_l <= 0:
            self._closed_s = view.now_s
            return Turn(wake_s=view.now_s + DRIP_S)
        seconds = missing_l / view.site.rig.fill.rated_l_min * 60
        command = self._opening(view, seconds)
        if command is None:
            return Turn(wake_s=view.now_s + OPENS_WITHIN_S)
        return Turn(Request(fill=command), wake_s=view.now_s + min(LOOK_S, max(0.05, seconds)))

    def _opening(self, view: View, seconds: float) -> FillCommand | None:
        """Give the opening to ask for; None while one that is over has not shut yet."""
        board = view.image.board
        if board is None:
            return None
        if self._command is not None:
            ended = not board.valve_open and view.now_s > self._asked_s + OPENS_WITHIN_S
            if self._broken and board.valve_open:
                return None
            if not self._broken and not ended:
                return self._command
        lasts_ms = min(OPEN_LONGEST_MS, max(OPEN_LEAST_MS, math.ceil(seconds * OPEN_MARGIN * 1000)))
        open_id = view.memory.take_open_id(above=board.open_id)
        self._command = FillCommand(open_id, lasts_ms, board.boot_id)
        self._asked_s, self._broken = view.now_s, False
        return self._command

    def _unexpected(self, level_l: float) -> Trouble:
        text = f"the tank holds {level_l:.1f} L, {self._expected_l:.1f} L are expected"
        return Trouble(Cause.FILL_DISAGREES, text)

    def _level_l(self, view: View) -> float | None:
        """Give flow since boot plus the smoothed difference between level and flow."""
        level_l, flow_l = view.readings.level_l, view.readings.flow_l
        if level_l is None or flow_l is None:
            return None
        offset_l = level_l - flow_l
        if self._offset_l is None or self._looked_s is None:
            self._offset_l = offset_l
        else:
            share = 1 - math.exp(-(view.now_s - self._looked_s) / SMOOTHING_S)
            self._offset_l += share * (offset_l - self._offset_l)
        self._looked_s = view.now_s
        return self._offset_l + flow_l

    def _drip(self, view: View, closed_s: float) -> Turn:
        # Compared this way round, the moment it asks to be woken at is always late enough.
        if view.now_s < closed_s + DRIP_S:
            return Turn(wake_s=closed_s + DRIP_S)
        if not self._step.top_up and view.memory.plan.additions:
            # The last of the pipe's water must have fallen, and its waves be gone.
            look, wake_s = self._still(view, RUN_OUT_S)
            if not look.over:
                return Turn(wake_s=wake_s)
            level = look.level
            foam_l = heel_foam_l(view.site, self._step.from_l)
            view.memory.arrivals.begin(None if level is None else replace(level, sinking_l=foam_l))
        level_l = view.readings.level_l
        notes = [self._note, "" if level_l is None else f"level {level_l:.1f} L"]
        return Turn(wake_s=view.now_s, done=True, note="; ".join(note for note in notes if note))
