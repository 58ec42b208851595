"""The dosing side of the rig: bottles, pumps, tubes and the common line, joined as on the real rig.

Gives what comes out of the line above the tank. No tank, no sensors, no firmware.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from random import Random

from controller.settings.values import Pump, Site
from sim.line import Manifold, SupplyLine
from sim.pump import RUN_IN_COUNTS, PeristalticPump
from sim.stock import Drawn, Stock
from sim.true_input import TrueInput
from sim.world import World

COUNTS_BEFORE = 4 * RUN_IN_COUNTS


@dataclass(frozen=True, slots=True)
class Delivered:
    """Liquid that left the line: mL, and its parcel (`sim.ions.PARCEL`)."""

    ml: float
    content: Sequence[float]


class Bottle:
    """One input's bottle with its tube, its agitator's name and what is truly in it."""

    __slots__ = ("agitator", "line", "name", "stock", "true")

    def __init__(
        self, name: str, agitator: str | None, stock: Stock, line: SupplyLine, true: TrueInput
    ) -> None:
        self.name = name
        self.agitator = agitator
        self.stock = stock
        self.line = line
        self.true = true


class Dosing:
    """Every pump with what it draws from, by the pump's channel; a pump without a bottle draws water."""

    def __init__(self, site: Site, world: World, seed: int) -> None:
        self._world = world
        self._manifold = Manifold(site.rig.manifold.holdup_ml, world.room.temperature_c)
        self.pumps = {pump.channel: _true_pump(pump, world, seed) for pump in site.rig.pumps.values()}
        self.bottles = _bottles(site, world)
        self._suspension_by_dose: dict[int, Drawn] = {}

    @property
    def solids_share_by_dose(self) -> dict[int, float]:
        """Give the solids that came up the tube, as a share of the label, for each dose of a suspension."""
        return {dose_id: drawn.solids_share for dose_id, drawn in self._suspension_by_dose.items()}

    def turn(self, channel: int, counts: int, counts_per_s: int, dose_id: int) -> Delivered:
        """Turn one pump; give what leaves the common line for it."""
        pump = self.pumps[channel]
        pump.begin_dose(dose_id)
        swept_ml = pump.turn(counts)
        bottle = self.bottles.get(channel)
        if bottle is None:
            return self._through(swept_ml, self._world.supply.content(swept_ml), None)
        out = bottle.line.push(swept_ml, bottle.stock.draw(swept_ml))
        if bottle.true.suspended is not None:
            before = self._suspension_by_dose.get(dose_id, Drawn(0.0, 1.0))
            self._suspension_by_dose[dose_id] = _joined(before, out)
        content = bottle.true.content(out.ml, out.solids_share, self._world.room.temperature_c)
        return self._through(out.ml, content, bottle.name)

    def advance(self, dt_s: float, agitators: frozenset[str]) -> None:
        """Let time pass with these agitators running."""
        for bottle in self.bottles.values():
            bottle.stock.advance(dt_s, bottle.agitator is not None and bottle.agitator in agitators)

    def _through(self, ml: float, content: list[float], name: str | None) -> Delivered:
        return Delivered(ml, self._manifold.push(ml, content, name) if ml > 0 else content)


def _joined(before: Drawn, after: Drawn) -> Drawn:
    """Take what came out of one tube in two pieces as one."""
    ml = before.ml + after.ml
    solids = before.ml * before.solids_share + after.ml * after.solids_share
    return Drawn(ml, solids / ml if ml > 0.0 else before.solids_share)


def _true_pump(pump: Pump, world: World, seed: int) -> PeristalticPump:
    """Make a pump that is off its calibration by a seeded error, at its wear of that day."""
    drawn = Random(f"{seed} calibration of {pump.name}")
    error = 1 + world.pumps.calibration_error * drawn.uniform(-1, 1)
    new_ml = pump.ml_per_count * error / PeristalticPump.wear_factor(COUNTS_BEFORE)
    start = drawn.uniform(0, pump.counts_per_roller)
    return PeristalticPump(new_ml, pump.counts_per_roller, seed, pump.name, COUNTS_BEFORE, start)


def _bottles(site: Site, world: World) -> dict[int, Bottle]:
    """Set the bottles by the channel of their pump, having stood since they were last stirred."""
    kept = world.bottles
    found = {}
    for of in site.inputs.values():
        true = world.inputs[of.name]
        stock = Stock(of.stock_ml, true.suspended, kept.area_cm2, of.unreachable_ml)
        stock.advance(kept.stood_hours * 3600, agitated=False)
        channel = site.rig.pumps[of.pump].channel
        found[channel] = Bottle(of.name, of.agitator, stock, SupplyLine(kept.line_ml), true)
    return found
