"""The common line as the pumps meet it: what they push falls from it, what they draw back stays near.

It moves parcels; nothing here knows inputs, pumps or tanks.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from sim.matter.ions import scaled
from sim.pumping.manifold import NOTHING, Fallen, Manifold, Outlet


class CommonLine:
    """The mixed volume, its outlet, and by channel what a pump has drawn back out of it into its own tube."""

    def __init__(self, holdup_ml: float, water_c: float, seed: int) -> None:
        self.manifold = Manifold(holdup_ml, water_c)
        self.outlet = Outlet(seed)
        self._drawn: dict[int, Fallen] = {}

    @property
    def held_ml(self) -> Mapping[str, float]:
        """Give how much of each named concentrate stands in it."""
        return self.manifold.held_ml

    def push(self, ml: float, content: Sequence[float], name: str | None, dose_id: int) -> Fallen:
        """Push liquid into it; return what falls from its outlet. Air that had come in goes first."""
        filled_ml = self.manifold.fill(ml, content, name)
        if filled_ml >= ml:
            return NOTHING
        through_ml = ml - filled_ml
        coming = scaled(content, through_ml / ml) if filled_ml > 0.0 else content
        return self.outlet.push(through_ml, self.manifold.push(through_ml, coming, name), dose_id)

    def draw_back(self, channel: int, ml: float, name: str | None) -> None:
        """Let a pump draw a little out of it: drops that hang at its outlet follow, and then air."""
        pulled = self.manifold.pull(ml, name, self.outlet.draw_in(ml))
        before = self._drawn.get(channel, NOTHING)
        self._drawn[channel] = Fallen(before.ml + ml, both_parcels(before.content, pulled))

    def give_back(self, channel: int, ml: float, name: str | None, dose_id: int) -> Fallen:
        """Push so much of what a pump had drawn back into it again; return what falls."""
        drawn = self._drawn[channel]
        # What rounding has left of it comes last, and is nothing.
        share = 1.0 if ml >= drawn.ml else ml / drawn.ml
        self._drawn[channel] = Fallen(drawn.ml * (1.0 - share), scaled(drawn.content, 1.0 - share))
        return self.push(ml, scaled(drawn.content, share), name, dose_id)

    def advance(self, dt_s: float) -> Fallen:
        """Let time pass; return what dripped."""
        return self.outlet.advance(dt_s)


def both_parcels(one: Sequence[float], other: Sequence[float]) -> Sequence[float]:
    """Add two parcels; nothing is an empty one."""
    if not one or not other:
        return one or other
    return [first + second for first, second in zip(one, other, strict=True)]
