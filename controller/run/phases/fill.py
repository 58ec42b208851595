"""Fill: run the supply until the tank holds the wanted volume, with stir and air off.

The level sensor is the judge; the flow meter smooths it, because the surface waves while water falls in.
Disagreement of the two, a dry supply and the floats are the interlocks' matter.
"""

from __future__ import annotations

import math

from controller.plan.steps import Fill
from controller.run.phases.phase import PlainPhase, Turn, View
from controller.run.request import FillCommand, Request

LOOK_S = 2.0
SMOOTHING_S = 20.0
DRIP_S = 4.0
OPEN_MARGIN = 1.5
OPEN_LEAST_MS = 5_000


class FillPhase(PlainPhase):
    """Open the valve once per run-up, close it early by what the pipe still holds, wait for the drip."""

    def __init__(self, step: Fill) -> None:
        self._step = step
        self._command: FillCommand | None = None
        self._offset_l: float | None = None
        self._looked_s: float | None = None
        self._closed_s: float | None = None

    def scan(self, view: View) -> Turn:
        """Ask for the valve until the level, led by the flow meter, says enough."""
        if self._closed_s is not None:
            return self._drip(view, self._closed_s)
        level_l = self._level_l(view)
        if level_l is None:
            return Turn(wake_s=view.now_s + LOOK_S)
        fill = view.site.rig.fill
        missing_l = self._step.to_l - fill.pipe_ml / 1000 - level_l
        if missing_l <= 0:
            self._closed_s = view.now_s
            return Turn(wake_s=view.now_s + DRIP_S)
        seconds = missing_l / fill.rated_l_min * 60
        if self._command is None:
            max_ms = max(OPEN_LEAST_MS, math.ceil(seconds * OPEN_MARGIN * 1000))
            self._command = FillCommand(view.memory.take_open_id(), max_ms)
        return Turn(Request(fill=self._command), wake_s=view.now_s + min(LOOK_S, max(0.05, seconds)))

    def resume(self, view: View) -> None:
        """Open anew: the board forgets no opening, so the next one needs its own id."""
        self._command = None
        self._offset_l = None
        self._looked_s = None

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
        if view.now_s - closed_s < DRIP_S:
            return Turn(wake_s=closed_s + DRIP_S)
        level_l = view.readings.level_l
        note = "" if level_l is None else f"level {level_l:.1f} L"
        return Turn(wake_s=view.now_s, done=True, note=note)
