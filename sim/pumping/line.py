"""The tube from a bottle to its pump: plug flow of liquid, grains and air, and the pockets of the pump head.

It moves what it is given; nothing here knows inputs, pumps or tanks.
"""

from __future__ import annotations

import math
from collections import deque
from dataclasses import dataclass

from sim.pumping.stock import Drawn

_ALIKE = 1e-3
_NOTHING_ML = 1e-12


@dataclass(slots=True)
class Plug:
    """A piece of what stands in a tube: its volume, how much of that is liquid, the solids of the liquid."""

    ml: float
    liquid_share: float
    solids_share: float

    @property
    def liquid_ml(self) -> float:
        """Give the liquid in it."""
        return self.ml * self.liquid_share


class SupplyLine:
    """What goes in first comes out first, air as well as liquid, but for the pockets between the rollers.

    The pockets are a mixed volume, so that the first millilitres after air are short (assumed). A new line is
    full of liquid as labelled, unless `primed` is False (then full of air). Air is not compressed. `gap_ml`
    is what it was drawn back by at its end at the pump: that is filled before anything comes out.
    """

    __slots__ = ("_plugs", "_pocket", "gap_ml", "holdup_ml")

    def __init__(self, holdup_ml: float, primed: bool = True, pocket_ml: float = 0.0) -> None:
        self.holdup_ml = holdup_ml
        self.gap_ml = 0.0
        filled = 1.0 if primed else 0.0
        self._plugs = deque([Plug(holdup_ml, filled, 1.0)] if holdup_ml > 0.0 else [])
        self._pocket = Plug(pocket_ml, filled, 1.0)

    @property
    def drainable_ml(self) -> float:
        """Give the liquid that may run back to the bottle; what stands between the rollers stays."""
        return sum(plug.liquid_ml for plug in self._plugs)

    @property
    def wet_ml(self) -> float:
        """Give what must move until all of the tube's liquid has passed its end at the pump."""
        wet_ml = passed_ml = 0.0
        for plug in self._plugs:
            passed_ml += plug.ml
            if plug.liquid_ml > _NOTHING_ML:
                wet_ml = passed_ml
        return wet_ml

    @property
    def liquid_ml(self) -> float:
        """Give all liquid in tube and pockets."""
        return self.drainable_ml + self._pocket.liquid_ml

    def push(self, moved_ml: float, drawn: Drawn, air_share: float = 0.0) -> Drawn:
        """Take in what the bottle gave and air for the rest of `moved_ml`; return the liquid that comes out.

        `air_share` of the stream is air as long as the bottle gives anything; air alone comes after that.
        """
        stream_ml = drawn.ml / (1.0 - air_share) if drawn.ml > 0.0 else 0.0
        self._take_in(Plug(min(stream_ml, moved_ml), 1.0 - air_share, drawn.solids_share))
        self._take_in(Plug(moved_ml - stream_ml, 0.0, 1.0))
        left_ml, liquid_ml, solids = max(moved_ml - self.gap_ml, 0.0), 0.0, 0.0
        self.gap_ml -= moved_ml - left_ml
        while left_ml > 0.0 and self._plugs:
            first = self._plugs[0]
            piece_ml = min(left_ml, first.ml)
            out = self._through_pocket(Plug(piece_ml, first.liquid_share, first.solids_share))
            liquid_ml += out.ml
            solids += out.ml * out.solids_share
            left_ml -= piece_ml
            first.ml -= piece_ml
            if first.ml <= _NOTHING_ML:
                self._plugs.popleft()
        return Drawn(liquid_ml, solids / liquid_ml if liquid_ml > 0.0 else 1.0)

    def draw_back(self, moved_ml: float) -> Drawn:
        """Move back by so much; return the liquid that leaves at the bottle's end."""
        self.gap_ml += moved_ml
        left_ml, liquid_ml, solids = moved_ml, 0.0, 0.0
        while left_ml > 0.0 and self._plugs:
            last = self._plugs[-1]
            piece_ml = min(left_ml, last.ml)
            liquid_ml += piece_ml * last.liquid_share
            solids += piece_ml * last.liquid_share * last.solids_share
            left_ml -= piece_ml
            last.ml -= piece_ml
            if last.ml <= _NOTHING_ML:
                self._plugs.pop()
        return Drawn(liquid_ml, solids / liquid_ml if liquid_ml > 0.0 else 1.0)

    def fall_back(self, liquid_ml: float) -> Drawn:
        """Let so much liquid run back to the bottle, air following from the pump; return what ran."""
        popped_ml, fell_ml, solids = 0.0, 0.0, 0.0
        while self._plugs and liquid_ml - fell_ml > _NOTHING_ML:
            last = self._plugs[-1]
            wanted_ml = liquid_ml - fell_ml
            whole = last.liquid_ml <= wanted_ml
            piece_ml = last.ml if whole else wanted_ml / last.liquid_share
            fell_ml += piece_ml * last.liquid_share
            solids += piece_ml * last.liquid_share * last.solids_share
            popped_ml += piece_ml
            last.ml -= piece_ml
            if whole:
                self._plugs.pop()
        if popped_ml > 0.0:
            self._air_at_pump(popped_ml)
        return Drawn(fell_ml, solids / fell_ml if fell_ml > 0.0 else 1.0)

    def _air_at_pump(self, ml: float) -> None:
        if self._plugs and self._plugs[0].liquid_share == 0.0:
            self._plugs[0].ml += ml
        else:
            self._plugs.appendleft(Plug(ml, 0.0, 1.0))

    def _take_in(self, plug: Plug) -> None:
        if plug.ml <= 0.0:
            return
        if self._plugs:
            last = self._plugs[-1]
            # Plugs that differ by less than a thousandth in solids are joined, so that few are left to walk.
            if last.liquid_share == plug.liquid_share and abs(last.solids_share - plug.solids_share) < _ALIKE:
                ml = last.ml + plug.ml
                last.solids_share += (plug.solids_share - last.solids_share) * plug.ml / ml
                last.ml = ml
                return
        self._plugs.append(plug)

    def _through_pocket(self, coming: Plug) -> Drawn:
        """Send a plug through the pockets; exact for a steady stream into a mixed volume."""
        pocket = self._pocket
        if pocket.ml == 0.0 or (
            pocket.liquid_share == coming.liquid_share and pocket.solids_share == coming.solids_share
        ):
            return Drawn(coming.liquid_ml, coming.solids_share)
        kept = math.exp(-coming.ml / pocket.ml)
        liquid_ml = pocket.liquid_ml * kept + coming.liquid_share * pocket.ml * (1.0 - kept)
        solids = pocket.liquid_ml * pocket.solids_share * kept
        solids += coming.liquid_share * coming.solids_share * pocket.ml * (1.0 - kept)
        out_ml = max(pocket.liquid_ml + coming.liquid_ml - liquid_ml, 0.0)
        out_solids = pocket.liquid_ml * pocket.solids_share + coming.liquid_ml * coming.solids_share - solids
        pocket.liquid_share = liquid_ml / pocket.ml
        pocket.solids_share = solids / liquid_ml if liquid_ml > 0.0 else 1.0
        return Drawn(out_ml, max(out_solids, 0.0) / out_ml if out_ml > _NOTHING_ML else 1.0)
