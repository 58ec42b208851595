"""Platform scale: what stands on one load cell, bottles and the rinse water's can, and what shakes it there.

The cell itself is `scale.py`. A tube weighs on the cell what it weighs empty, which is nothing here.
"""

from __future__ import annotations

from collections.abc import Sequence

from controller.settings.values import Site
from sim.matter.ions import EXCESS
from sim.pumping.bottle import Bottle
from sim.pumping.can import Can
from sim.pumping.dosing import Dosing
from sim.pumping.stock import Stock
from sim.sensing.disturbance import Disturbance
from sim.sensing.scale import Scale, ScaleCondition
from sim.true_input import TrueInput
from sim.world import World


class Platform:
    """One scale with the bottles on it; they stay there, whichever pumps their tubes are put on.

    `scale` is its load cell. `can` is the rinse water's, where it stands here too.
    """

    def __init__(
        self, name: str, world: World, bottles: Sequence[Bottle], can: Can | None, seed: int
    ) -> None:
        self.name = name
        self._bottles = tuple(_Standing(bottle) for bottle in bottles)
        self._can = can
        true = world.scales
        self._empty_g = true.platform_g + true.tare_g * (len(bottles) + (can is not None))
        self._agitators = frozenset(bottle.agitator for bottle in bottles if bottle.agitator is not None)
        self.scale = Scale(name, true, self.stands_g, seed)

    @property
    def condition(self) -> ScaleCondition:
        """What ails its load cell."""
        return self.scale.condition

    @condition.setter
    def condition(self, condition: ScaleCondition) -> None:
        self.scale.condition = condition

    @property
    def stands_g(self) -> float:
        """Give what truly stands on the cell, g: plate, empty bottles and all that is in them."""
        water_g = 0.0 if self._can is None else self._can.volume_ml
        return self._empty_g + water_g + sum(standing.content_g() for standing in self._bottles)

    def advance(self, dt_s: float, air_c: float, near: Disturbance) -> None:
        """Let the cell follow for `dt_s`."""
        shaken = near.motor or not self._agitators.isdisjoint(near.agitators)
        self.scale.advance(dt_s, self.stands_g, air_c, shaken)


class _Standing:
    """A bottle on a scale; its weight is worked out anew only when something went in or out."""

    __slots__ = ("_bottle", "_changes", "_content_g")

    def __init__(self, bottle: Bottle) -> None:
        self._bottle = bottle
        self._changes = -1
        self._content_g = 0.0

    def content_g(self) -> float:
        """Give what its content weighs, g."""
        stock = self._bottle.stock
        if stock.changes != self._changes:
            self._changes = stock.changes
            self._content_g = content_g(stock, self._bottle.true)
        return self._content_g


def platforms(site: Site, world: World, seed: int, dosing: Dosing) -> dict[int, Platform]:
    """Return the platforms of a site by their data line, each with what rig.toml puts on it."""
    rig = site.rig
    rinse = rig.pumps[rig.manifold.rinse_pump]
    found = {}
    for scale in rig.scales.values():
        channels = [pump.channel for pump in rig.pumps.values() if pump.scale == scale.name]
        bottles = [dosing.bottles[channel] for channel in channels if channel in dosing.bottles]
        can = dosing.can if rinse.scale == scale.name else None
        found[scale.line] = Platform(scale.name, world, bottles, can, seed)
    return found


def content_g(stock: Stock, true: TrueInput) -> float:
    """Return what a bottle's content weighs, g, its grains wherever they lie; 1 g/mL and what is above."""
    if true.suspended is None:
        return stock.volume_ml * (1.0 + true.dissolved_ml[EXCESS])
    labelled = true.suspended.volume_share
    liquid_ml = (stock.volume_ml - stock.solids_ml) / (1.0 - labelled)
    grains_ml = stock.solids_ml / labelled
    return stock.volume_ml + liquid_ml * true.dissolved_ml[EXCESS] + grains_ml * true.grains_ml[EXCESS]
