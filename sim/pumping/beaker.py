"""A beaker under the end of one pump's tube, as a person hangs it there to weigh what comes: its content.

No balance and no person here; they are `sim/desk.py`.
"""

from __future__ import annotations

from collections.abc import Sequence

from sim.matter.ions import EXCESS
from sim.noise import gaussian, seed_for
from sim.pumping.manifold import NOTHING, Fallen

HANGS_ML = 0.02
"""What stays at the tube's end after it was touched to the wall, half-normal: a part of a drop (assumed)."""


class Beaker:
    """What fell into it: `ml` and `grams`. Nothing of it reaches the tank.

    The end of the tube takes the place of the common line: what is drawn back into it comes again first.
    `water_g_ml` is the weight of a millilitre without what is dissolved or stands in it.
    """

    def __init__(self, water_g_ml: float, seed: int) -> None:
        self.ml = 0.0
        self.grams = 0.0
        self._water_g_ml = water_g_ml
        self._seed = seed_for(seed, "drops at a tube's end")
        self._g_ml = water_g_ml
        self._hanging_ml = 0.0

    def push(self, ml: float, content: Sequence[float], name: str | None, dose_id: int) -> Fallen:
        """Take what comes out of the tube."""
        if ml > 0.0:
            self._g_ml = self._water_g_ml + content[EXCESS] / ml
        self._take(ml)
        return NOTHING

    def draw_back(self, channel: int, ml: float, name: str | None) -> None:
        """Let the pump draw a little back into the tube: it was not in the beaker yet, or hung at the end."""
        self._take(-ml)

    def give_back(self, channel: int, ml: float, name: str | None, dose_id: int) -> Fallen:
        """Take what had been drawn back."""
        self._take(ml)
        return NOTHING

    def touch_off(self, delivery: int) -> None:
        """Touch the tube's end to the wall: nearly all that hangs there comes off."""
        hangs_ml = HANGS_ML * abs(gaussian(self._seed, delivery))
        self._take(self._hanging_ml - hangs_ml)
        self._hanging_ml = hangs_ml

    def _take(self, ml: float) -> None:
        self.ml += ml
        self.grams += ml * self._g_ml
