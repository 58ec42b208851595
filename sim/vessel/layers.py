"""Three layers of equal volume that hold a tank's water: what enters, leaves and is exchanged between them.

Moves whole parcels (`sim.matter.ions.PARCEL`) and nothing else: no chemistry, no time, no weight.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from enum import Enum

from sim.matter.ions import PARCEL, add_into, scaled
from sim.vessel.mixing import exchange

EMPTY_L = 1e-6


class Layer(Enum):
    """Where something enters. The value is the place in the chain of layers."""

    TOP = 0
    MIDDLE = 1
    BOTTOM = 2


Shares = tuple[float, float, float]
"""How something is shared out among top, middle and bottom; they add up to 1."""
ALL_IN = {Layer.TOP: (1.0, 0.0, 0.0), Layer.MIDDLE: (0.0, 1.0, 0.0), Layer.BOTTOM: (0.0, 0.0, 1.0)}
EVENLY = (1.0 / 3.0, 1.0 / 3.0, 1.0 / 3.0)


class Layers:
    """Layers from top to bottom. Exchange to be done waits until someone looks or moves water."""

    __slots__ = ("_lower", "_upper", "parcels", "volume_l")

    def __init__(self) -> None:
        self.parcels = [[0.0] * len(PARCEL) for _ in Layer]
        self.volume_l = 0.0
        self._upper = self._lower = 0.0

    def stir(self, upper: float, lower: float) -> None:
        """Note exchange (rate x time) between the top two and the bottom two layers."""
        self._upper += upper
        self._lower += lower

    def mix(self) -> None:
        """Carry out the exchange that has piled up."""
        if self._upper > 0.0 or self._lower > 0.0:
            top, middle, bottom = self.parcels
            exchange(top, middle, bottom, self._upper, self._lower)
            self._upper = self._lower = 0.0

    def content(self) -> list[float]:
        """Return the parcel of all layers together."""
        return [a + b + c for a, b, c in zip(*self.parcels, strict=True)]

    def add(self, volume_l: float, content: Sequence[float], shares: Shares) -> None:
        """Put liquid in, shared out like this, and even the volumes out.

        Raises ValueError for a volume that is negative or no number.
        """
        if not 0.0 <= volume_l < math.inf:
            raise ValueError(f"cannot add {volume_l} L")
        self.mix()
        before_l = self.volume_l
        self.volume_l = before_l + volume_l
        if before_l < EMPTY_L:
            shares = EVENLY
        for parcel, share in zip(self.parcels, shares, strict=True):
            if share == 1.0:
                add_into(parcel, content)
            elif share > 0.0:
                add_into(parcel, scaled(content, share))
        self._even_out([before_l / 3.0 + volume_l * share for share in shares])

    def remove(self, volume_l: float, at: Layer = Layer.BOTTOM) -> list[float]:
        """Take liquid from one layer, as far as there is any in the tank; return its parcel.

        Raises ValueError for a volume that is negative or no number.
        """
        if not volume_l >= 0.0:
            raise ValueError(f"cannot remove {volume_l} L")
        taken = [0.0] * len(PARCEL)
        self.mix()
        left_l = min(volume_l, self.volume_l)
        while left_l > 0.0 and self.volume_l > EMPTY_L:
            third_l = self.volume_l / 3.0
            piece_l = min(left_l, 0.5 * third_l)
            layer = self.parcels[at.value]
            share = piece_l / third_l
            for index, amount in enumerate(layer):
                taken[index] += amount * share
                layer[index] = amount - amount * share
            held_l = [third_l] * 3
            held_l[at.value] -= piece_l
            self._even_out(held_l)
            self.volume_l -= piece_l
            left_l -= piece_l
        return taken

    def _even_out(self, held_l: list[float]) -> None:
        """Let neighbours pass on what one has too much of, so that the three are equal again."""
        mean_l = sum(held_l) / 3.0
        down_l, further_l = held_l[0] - mean_l, mean_l - held_l[2]
        # The middle layer gives to the top only what it may first have got from below.
        if down_l >= 0.0:
            self._pass(0, 1, down_l, held_l)
            self._pass(1, 2, further_l, held_l)
        else:
            self._pass(1, 2, further_l, held_l)
            self._pass(0, 1, down_l, held_l)

    def _pass(self, above: int, below: int, volume_l: float, held_l: list[float]) -> None:
        """Move `volume_l` of one layer into the next below it, or back if it is negative."""
        if volume_l == 0.0:
            return
        source, sink, moved_l = (above, below, volume_l) if volume_l > 0.0 else (below, above, -volume_l)
        share = min(moved_l / held_l[source], 1.0)
        giver, taker = self.parcels[source], self.parcels[sink]
        for index, amount in enumerate(giver):
            if amount:
                moved = amount * share
                giver[index] = amount - moved
                taker[index] += moved
        held_l[source] -= moved_l
        held_l[sink] += moved_l
