"""The scales while one motor turns: each weight held against the counts, and what too little of it means.

It looks and says; stopping the motor is the motion's. Weights at rest are `weigher.py`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from controller.measure.weighing import StillWeight, grams
from controller.measure.weight_loss import WeightLoss
from controller.run.phases.phase import View
from controller.run.weigher import reading_g

CLOSELY_S, CLOSE_WATCH_S, WATCH_S = 30.0, 1.0, 2.0
"""The weight is watched closely for the first seconds of a motion, in which most faults show."""


class BottleWatch:
    """Follow the loss of every scale that stood still, for one pump that draws from `scale`.

    `loss` is that scale's own, None where nothing is watched; `missing` says what was seen once too little
    has left it; `heavier`: somebody or something lies on it, and it is watched no more.
    """

    def __init__(self, scale: str, density_kg_l: float, weights: Mapping[str, StillWeight]) -> None:
        self._scale = scale
        self._density = density_kg_l
        self._losses = {name: WeightLoss(w.grams, w.standard_g) for name, w in weights.items()}
        self._from_s: float | None = None
        self._sampled_s = -math.inf
        self.missing = ""
        self.heavier = False

    @property
    def loss(self) -> WeightLoss | None:
        """Give what was seen of the scale that is drawn from."""
        return self._losses.get(self._scale)

    def wake_s(self, now_s: float) -> float:
        """Say when the weight is to be looked at again."""
        if self.loss is None:
            return now_s + WATCH_S
        self._from_s = now_s if self._from_s is None else self._from_s
        return now_s + (CLOSE_WATCH_S if now_s - self._from_s < CLOSELY_S else WATCH_S)

    def look(self, view: View, counted_ml: float) -> None:
        """Hold the weights against the mL counted since they were taken, once a second."""
        if self.loss is None or view.now_s - self._sampled_s < CLOSE_WATCH_S - 1e-6:
            return
        self._sampled_s = view.now_s
        expected_g = grams(counted_ml, self._density)
        if expected_g <= 0.0:
            return
        for name, loss in self._losses.items():
            g = reading_g(view, name)
            if g is not None:
                loss.add(expected_g, g)
        own = self.loss
        if own.heavier:
            self.heavier, self._losses = True, {}
        elif own.missing:
            self.missing = self._words(own, expected_g)

    def _words(self, own: WeightLoss, expected_g: float) -> str:
        """Say what the scales saw when too little had left."""
        others = [name for name, loss in self._losses.items() if name != self._scale and loss.taken]
        seen_g = own.share * expected_g
        text = f"scale {self._scale} lost {seen_g:.0f} g while {expected_g:.0f} g were counted"
        if others:
            return f"{text}, and scale {' and '.join(others)} lost weight: its tube hangs in the wrong bottle"
        return f"{text}: bottle empty, tube blocked or drawing air, rotor or pump tube broken"
