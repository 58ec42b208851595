"""Three layers of equal volume that hold a tank's water: what enters, leaves and is exchanged between them.

Moves whole parcels (`sim.ions.PARCEL`) and nothing else: no chemistry, no time.
"""

from __future__ import annotations

from collections.abc import Sequence
from enum import Enum

from sim.ions import PARCEL, add_into
from sim.mixing import exchange

EMPTY_L = 1e-6


class Layer(Enum):
    """Where something enters. The value is the place in the chain of layers."""

    TOP = 0
    MIDDLE = 1
    BOTTOM = 2


_OUTWARD = {
    Layer.TOP: ((0, 1, 2), (1, 2, 1)),
    Layer.MIDDLE: ((1, 0, 1), (1, 2, 1)),
    Layer.BOTTOM: ((2, 1, 2), (1, 0, 1)),
}
_FROM_ABOVE = ((0, 1, 1), (1, 2, 2))
"""Which layer passes how many thirds of a volume to which, so that three layers stay equal."""


class Layers:
    """Layers from top to bottom. Exchange to be done (`rounds`) waits until someone looks or moves water."""

    __slots__ = ("parcels", "rounds", "volume_l")

    def __init__(self) -> None:
        self.parcels = [[0.0] * len(PARCEL) for _ in Layer]
        self.volume_l = 0.0
        self.rounds = 0.0

    def mix(self) -> None:
        """Carry out the exchange that has piled up."""
        if self.rounds > 0.0:
            top, middle, bottom = self.parcels
            exchange(top, middle, bottom, self.rounds)
            self.rounds = 0.0

    def content(self) -> list[float]:
        """Return the parcel of all layers together."""
        return [a + b + c for a, b, c in zip(*self.parcels, strict=True)]

    def add(self, volume_l: float, content: Sequence[float], at: Layer) -> None:
        """Put liquid into one layer and even the volumes out. Raises ValueError for a negative volume."""
        if volume_l < 0.0:
            raise ValueError(f"cannot add {volume_l} L")
        self.mix()
        before_l = self.volume_l
        self.volume_l = before_l + volume_l
        if before_l < EMPTY_L:
            for parcel in self.parcels:
                add_into(parcel, [amount / 3.0 for amount in content])
            return
        add_into(self.parcels[at.value], content)
        held = [before_l / 3.0] * 3
        held[at.value] += volume_l
        for source, sink, thirds in _OUTWARD[at]:
            self._pass(source, sink, volume_l * thirds / 3.0, held)

    def remove(self, volume_l: float) -> list[float]:
        """Take liquid from the bottom, as far as there is any; return its parcel."""
        taken = [0.0] * len(PARCEL)
        self.mix()
        left_l = min(volume_l, self.volume_l)
        while left_l > 0.0 and self.volume_l > EMPTY_L:
            third_l = self.volume_l / 3.0
            piece_l = min(left_l, 0.5 * third_l)
            bottom = self.parcels[2]
            share = piece_l / third_l
            for index, amount in enumerate(bottom):
                taken[index] += amount * share
                bottom[index] = amount - amount * share
            held = [third_l, third_l, third_l - piece_l]
            for source, sink, thirds in _FROM_ABOVE:
                self._pass(source, sink, piece_l * thirds / 3.0, held)
            self.volume_l -= piece_l
            left_l -= piece_l
        return taken

    def _pass(self, source: int, sink: int, volume_l: float, held_l: list[float]) -> None:
        """Move `volume_l` of one layer into its neighbour."""
        share = min(volume_l / held_l[source], 1.0)
        giver, taker = self.parcels[source], self.parcels[sink]
        for index, amount in enumerate(giver):
            if amount:
                moved = amount * share
                giver[index] = amount - moved
                taker[index] += moved
        held_l[source] -= volume_l
        held_l[sink] += volume_l
