"""The dosing side of the rig: bottles, pumps, tubes and the common line, joined as on the real rig.

Gives what comes out of the line above the tank, and tells what went to the floor. No tank, no sensors, no
firmware.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from random import Random

from controller.settings.values import Pump, Site
from sim.pumping.beaker import Beaker
from sim.pumping.bottle import Bottle, density_kg_l
from sim.pumping.can import Can
from sim.pumping.common_line import CommonLine, both_parcels
from sim.pumping.condition import SOUND, Condition
from sim.pumping.line import SupplyLine
from sim.pumping.manifold import NOTHING, Fallen
from sim.pumping.pump import RUN_IN_COUNTS, PeristalticPump
from sim.pumping.stock import Drawn, Stock
from sim.pumping.tubing import Tubing
from sim.world import World

COUNTS_BEFORE = 4 * RUN_IN_COUNTS
OPEN_TUBE_SHARE = 0.5
"""What rollers still move that do not shut the tube (assumed)."""
POCKETS = 3
"""So many rollers' volumes of the pump head mix what passes (assumed)."""
NO_DOSE = 0
PUDDLE_ML = 20.0
"""So much on the floor reaches the leak contact (assumed)."""


@dataclass(frozen=True, slots=True)
class Delivered:
    """What one motion gave: mL that left the pump head towards the tank, and what fell into it meanwhile.

    `content` is the parcel of `fallen_ml`; the two differ by what hangs at the outlet.
    """

    ml: float
    fallen_ml: float
    content: Sequence[float]


class Dosing:
    """Every pump with what it draws from, by the pump's channel; one without a bottle draws from `can`.

    `condition` says what is wrong with a pump, by its channel; a pump that is not in it is sound. By channel
    too, `spilled_ml` counts what ran to the floor, `siphoned_ml` what gravity moved towards the tank.
    `delivered_ml` counts by input what went to the tank, by pump or gravity. `beakers`: where a person has
    hung the end of a pump's tube instead of on the common line.
    """

    def __init__(self, site: Site, world: World, seed: int) -> None:
        self._world = world
        self._common = CommonLine(site.rig.manifold.holdup_ml, world.room.temperature_c, seed)
        self._manifold, self.outlet = self._common.manifold, self._common.outlet
        self.rinse_water: Callable[[float], Sequence[float]] = world.supply.content
        self.pumps = {pump.channel: _true_pump(pump, world, seed) for pump in site.rig.pumps.values()}
        self.bottles = _bottles(site, world, self.pumps)
        self._settling = [bottle for bottle in self.bottles.values() if bottle.true.suspended is not None]
        self.can = Can(world.bottles.rinse_can_l * 1e3)
        self._water = Tubing(world.bottles.line_ml, world.bottles.line_m)
        self.condition: dict[int, Condition] = {}
        self.beakers: dict[int, Beaker] = {}
        self.spilled_ml = dict.fromkeys(self.pumps, 0.0)
        self.siphoned_ml = dict.fromkeys(self.pumps, 0.0)
        self.delivered_ml = {bottle.name: 0.0 for bottle in self.bottles.values()}
        self._suspension_by_dose: dict[int, Drawn] = {}

    @property
    def floor_wet(self) -> bool:
        """Tell whether enough was spilled to wet the leak contact."""
        return sum(self.spilled_ml.values()) >= PUDDLE_ML

    @property
    def solids_share_by_dose(self) -> dict[int, float]:
        """Give the solids that came out of the tube, as a share of the label, by dose of a suspension."""
        return {dose_id: drawn.solids_share for dose_id, drawn in self._suspension_by_dose.items()}

    def common_line_ml(self, input_name: str) -> float:
        """Give how much of this input stands in the common line."""
        return self._common.held_ml.get(input_name, 0.0)

    def channel_of(self, input_name: str) -> int:
        """Give the channel of the pump that draws from this input's bottle. Raises KeyError if none does."""
        for channel, bottle in self.bottles.items():
            if bottle.name == input_name:
                return channel
        raise KeyError(input_name)

    def narrow_suction(self, channel: int, share: float, counts_per_s: int) -> None:
        """Close a suction tube until its pump, at this pace, finds but `share` (below 1) of its liquid."""
        pump, bottle = self.pumps[channel], self.bottles.get(channel)
        tubing = self._water if bottle is None else bottle.tubing
        closed = tubing.closure_for(share, pump.roller_ml, counts_per_s / pump.counts_per_roller)
        before = self.condition.get(channel, SOUND)
        self.condition[channel] = replace(before, inlet_blocked=max(before.inlet_blocked, closed))

    def swap_tubes(self, one: int, other: int) -> None:
        """Put the suction tubes of two bottles on each other's pumps.

        Bottles, agitators and scales stay where they are. The millilitre between the rollers goes with its
        tube, for it is counted as of that bottle.
        """
        bottles = self.bottles
        bottles[one], bottles[other] = bottles[other], bottles[one]

    def turn(self, channel: int, counts: int, counts_per_s: int, dose_id: int) -> Delivered:
        """Turn one pump; give what leaves its head and what leaves the common line for it.

        Raises ValueError for a pace of 0 or less and for a negative number of counts.
        """
        if counts_per_s <= 0:
            raise ValueError(f"pump on channel {channel}: cannot turn at {counts_per_s} counts/s")
        pump, bottle = self.pumps[channel], self.bottles.get(channel)
        condition = self.condition.get(channel, SOUND)
        pump.begin_dose(dose_id)
        tubing = self._water if bottle is None else bottle.tubing
        turned = 0 if condition.seized else counts
        room_ml = pump.turn(turned) * _moved_share(pump, tubing, counts_per_s, condition)
        gap_ml = self._gap_ml(channel)
        if bottle is None:
            out = Drawn(self.can.draw(room_ml * (1.0 - condition.air_leak)), 1.0)
        else:
            out = bottle.draw(room_ml, condition.air_leak)
            if bottle.true.suspended is not None:
                before = self._suspension_by_dose.get(dose_id, Drawn(0.0, 1.0))
                self._suspension_by_dose[dose_id] = _joined(before, out)
        returned = self._return(channel, gap_ml - self._gap_ml(channel), dose_id)
        return _both(returned, self._towards_tank(channel, out, condition.split, dose_id))

    def draw_back(self, channel: int, counts: int, counts_per_s: int, dose_id: int) -> float:
        """Turn one pump back by a few counts; give the mL that came back through its head.

        Everything moves back by as much: from the tube's end into the bottle, from the common line into the
        tube, from the drops at the outlet, and then air, into the common line. Assumed: the same volume as
        forward, and nothing of it mixes on its way.
        """
        pump, bottle = self.pumps[channel], self.bottles.get(channel)
        condition = self.condition.get(channel, SOUND)
        if condition.seized:
            return 0.0
        pump.begin_dose(dose_id)
        tubing = self._water if bottle is None else bottle.tubing
        ml = pump.turn_back(counts) * _moved_share(pump, tubing, counts_per_s, condition)
        name = None if bottle is None else bottle.name
        if bottle is None:
            self.can.take_back(ml)
        else:
            ml = bottle.draw_back(ml)
            self.delivered_ml[bottle.name] -= ml
        self._end(channel).draw_back(channel, ml, name)
        return ml

    def _end(self, channel: int) -> CommonLine | Beaker:
        return self.beakers.get(channel, self._common)

    def _gap_ml(self, channel: int) -> float:
        bottle = self.bottles.get(channel)
        return self.can.gap_ml if bottle is None else bottle.line.gap_ml

    def _return(self, channel: int, ml: float, dose_id: int) -> Delivered:
        """Push what was drawn out of the common line into it again, as far as the rotor has come."""
        if ml <= 0.0:
            return Delivered(0.0, 0.0, NOTHING.content)
        bottle = self.bottles.get(channel)
        if bottle is not None:
            self.delivered_ml[bottle.name] += ml
        fallen = self._end(channel).give_back(channel, ml, None if bottle is None else bottle.name, dose_id)
        return Delivered(ml, fallen.ml, fallen.content)

    def advance(self, dt_s: float, agitators: frozenset[str]) -> list[Fallen]:
        """Let time pass with these agitators running; give what falls into the tank without any pump."""
        for bottle in self._settling:
            bottle.stock.advance(dt_s, bottle.agitator is not None and bottle.agitator in agitators)
        fallen = [self._run(channel, condition, dt_s) for channel, condition in self.condition.items()]
        dripped = self._common.advance(dt_s)
        if dripped.ml > 0.0:
            fallen.append(dripped)
        return [piece for piece in fallen if piece.ml > 0.0] if fallen else fallen

    def _run(self, channel: int, condition: Condition, dt_s: float) -> Fallen:
        """Let liquid run by gravity; past rollers that shut, a split tube lets it run to the floor only."""
        bottle = self.bottles.get(channel)
        if bottle is None or condition.holds:
            return NOTHING
        out = bottle.run(dt_s, condition)
        if out.ml <= 0.0:
            return NOTHING
        ran = self._towards_tank(channel, out, condition.split if condition.failed else 1.0, NO_DOSE)
        self.siphoned_ml[channel] += ran.ml
        return Fallen(ran.fallen_ml, ran.content)

    def _towards_tank(self, channel: int, out: Drawn, split: float, dose_id: int) -> Delivered:
        self.spilled_ml[channel] += out.ml * split
        ml = out.ml * (1.0 - split)
        if ml <= 0.0:
            return Delivered(0.0, 0.0, NOTHING.content)
        bottle = self.bottles.get(channel)
        if bottle is None:
            fallen = self._end(channel).push(ml, self.rinse_water(ml), None, dose_id)
        else:
            content = bottle.true.content(ml, out.solids_share, self._world.room.temperature_c)
            fallen = self._end(channel).push(ml, content, bottle.name, dose_id)
            self.delivered_ml[bottle.name] += ml
        return Delivered(ml, fallen.ml, fallen.content)


def _moved_share(pump: PeristalticPump, tubing: Tubing, counts_per_s: int, condition: Condition) -> float:
    """Return what a pump moves at this pace, over what its rollers sweep in a tube that is full and free."""
    rollers_per_s = counts_per_s / pump.counts_per_roller
    share = tubing.refilled_share(pump.roller_ml, rollers_per_s, condition) * (1.0 - condition.worn)
    if condition.failed:
        share *= OPEN_TUBE_SHARE
    return share * tubing.let_out_share(share * pump.roller_ml * rollers_per_s, condition)


def _both(one: Delivered, other: Delivered) -> Delivered:
    """Take what one motion gave in two pieces as one."""
    if one.ml <= 0.0:
        return other
    return Delivered(
        one.ml + other.ml, one.fallen_ml + other.fallen_ml, both_parcels(one.content, other.content)
    )


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


def _bottles(site: Site, world: World, pumps: dict[int, PeristalticPump]) -> dict[int, Bottle]:
    """Set the bottles by the channel of their pump, having stood since they were last stirred."""
    kept = world.bottles
    found = {}
    for of in site.inputs.values():
        true = world.inputs[of.name]
        settling = true.suspended_at(world.room.temperature_c)
        stock = Stock(of.stock_ml, settling, kept.area_cm2, of.unreachable_ml)
        stock.advance(kept.stood_hours * 3600, agitated=False)
        channel = site.rig.pumps[of.pump].channel
        line_ml = kept.thick_line_ml if true.viscosity_mpa_s > kept.thick_mpa_s else kept.line_ml
        line = SupplyLine(line_ml, pocket_ml=POCKETS * pumps[channel].roller_ml)
        viscosity_mpa_s = true.apparent_viscosity_mpa_s(temperature_c=world.room.temperature_c)
        density, lift_m = density_kg_l(true), -kept.above_tank_m
        tubing = Tubing(line_ml, kept.line_m, viscosity_mpa_s, density, lift_m)
        found[channel] = Bottle(of.name, of.agitator, stock, line, true, tubing, kept.above_tank_m)
    return found
