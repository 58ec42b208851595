"""Weights as the scan sees them: one scale's present reading, and still weights of all, taken at rest.

It only looks and waits; what has left a bottle, and what that means, is said elsewhere.
"""

from __future__ import annotations

from collections import deque

from controller.measure.weighing import SAMPLE_S, SAMPLES, StillWeight, still_weight
from controller.run.phases.phase import View
from controller.settings.values import Pump

QUIET_S = 1.0
"""After motor and agitator are off, before the first sample: the bottle comes to rest (assumed)."""
GIVE_UP_S = 15.0
"""A scale that is not still by then, or does not answer, gives no weight."""


def scale_of(view: View, pump: Pump) -> str | None:
    """Give the scale that weighs what a pump draws from; None where none is fitted."""
    return pump.scale if pump.scale in view.site.rig.scales else None


def reading_g(view: View, scale: str) -> float | None:
    """Give what a scale shows now, g; None when it is not read."""
    board, fitted = view.image.board, view.site.rig.scales.get(scale)
    if board is None or fitted is None or fitted.line >= len(board.scales_g):
        return None
    return board.scales_g[fitted.line]


class Weigher:
    """Weigh once, with motor and agitators off. `over`: `weights` holds every scale that stood still."""

    def __init__(self, scale: str) -> None:
        self._scale = scale
        self._from_s: float | None = None
        self._next_s = 0.0
        self._samples: dict[str, deque[tuple[float, float]]] = {}
        self.weights: dict[str, StillWeight] = {}
        self.over = False

    def scan(self, view: View) -> float:
        """Take one scan; give the moment of the next sample. Over when the wanted scale is still, or late."""
        if self._from_s is None:
            self._from_s, self._next_s = view.now_s, view.now_s + QUIET_S
        if view.now_s < self._next_s - 1e-6:
            return self._next_s
        self._next_s = view.now_s + SAMPLE_S
        for name in view.site.rig.scales:
            g = reading_g(view, name)
            if g is not None:
                self._samples.setdefault(name, deque(maxlen=SAMPLES)).append((view.now_s, g))
        wanted = still_weight(tuple(self._samples.get(self._scale, ())))
        if wanted is not None or view.now_s - self._from_s >= GIVE_UP_S:
            self._end()
            return view.now_s
        return self._next_s

    def _end(self) -> None:
        self.over = True
        for name, samples in self._samples.items():
            weight = still_weight(tuple(samples))
            if weight is not None:
                self.weights[name] = weight
