"""The tubes: from bottle to pump (plug flow, liquid and air) and the common line to the tank (mixed volume).

They move what they are given; nothing here knows inputs, pumps or tanks.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Sequence

from sim.ions import PARCEL
from sim.stock import Drawn

_AIR = -1.0
_SAME = 1e-3


class SupplyLine:
    """Tube from a bottle through its pump: what goes in first comes out first, air as well as liquid.

    A new line is full of liquid as labelled, unless `primed` is False (then full of air).
    """

    __slots__ = ("_plugs", "holdup_ml")

    def __init__(self, holdup_ml: float, primed: bool = True) -> None:
        self.holdup_ml = holdup_ml
        self._plugs: deque[list[float]] = deque()
        if holdup_ml > 0.0:
            self._plugs.append([holdup_ml, 1.0 if primed else _AIR])

    @property
    def air_ml(self) -> float:
        """Air in the line."""
        return sum(ml for ml, share in self._plugs if share == _AIR)

    def push(self, swept_ml: float, drawn: Drawn) -> Drawn:
        """Take in what the bottle gave, air for the rest of `swept_ml`; return the liquid that comes out."""
        self._take_in(drawn.ml, drawn.solids_share)
        self._take_in(swept_ml - drawn.ml, _AIR)
        left_ml, liquid_ml, solids = swept_ml, 0.0, 0.0
        while left_ml > 0.0 and self._plugs:
            plug = self._plugs[0]
            piece_ml = min(left_ml, plug[0])
            if plug[1] != _AIR:
                liquid_ml += piece_ml
                solids += piece_ml * plug[1]
            left_ml -= piece_ml
            plug[0] -= piece_ml
            if plug[0] <= 1e-12:
                self._plugs.popleft()
        return Drawn(liquid_ml, solids / liquid_ml if liquid_ml > 0.0 else 1.0)

    def _take_in(self, ml: float, share: float) -> None:
        if ml <= 0.0:
            return
        if self._plugs:
            last = self._plugs[-1]
            alike = last[1] == share == _AIR or (
                last[1] != _AIR and share != _AIR and abs(last[1] - share) < _SAME
            )
            if alike:
                # Plugs that differ by less than a thousandth are joined, so that few are left to walk.
                if share != _AIR:
                    last[1] = (last[0] * last[1] + ml * share) / (last[0] + ml)
                last[0] += ml
                return
        self._plugs.append([ml, share])


class Manifold:
    """The common line: a mixed volume that is always full, of water at the start.

    `held_ml` tells how much of each named concentrate is still inside.
    """

    __slots__ = ("content", "held_ml", "holdup_ml")

    def __init__(self, holdup_ml: float, water_c: float) -> None:
        self.holdup_ml = holdup_ml
        self.content = [0.0] * len(PARCEL)
        self.content[-1] = holdup_ml * 1e-3 * water_c
        self.held_ml: dict[str, float] = {}

    def push(self, ml: float, content: Sequence[float], name: str | None = None) -> list[float]:
        """Push liquid in and return the parcel that leaves, of the same volume.

        Exact for a steady stream into a mixed volume V: what was inside falls by e^(-ml/V).
        `name` is the concentrate that the liquid consists of, None for water.
        """
        volumes = ml / self.holdup_ml
        if volumes < 1e-15:
            return list(content)
        kept = math.exp(-volumes)
        caught = -math.expm1(-volumes) / volumes
        leaving = [0.0] * len(PARCEL)
        for place, (inside, coming) in enumerate(zip(self.content, content, strict=True)):
            if inside or coming:
                stays = inside * kept + coming * caught
                leaving[place] = inside + coming - stays
                self.content[place] = stays
        for held in self.held_ml:
            self.held_ml[held] *= kept
        if name is not None:
            self.held_ml[name] = self.held_ml.get(name, 0.0) + ml * caught
        return leaving
