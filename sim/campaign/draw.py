"""Draw one night of a campaign: recipe, water, wear, faults with their moments, and the person in charge.

Everything follows from the campaign's seed and the night's number, so that any night can be run again alone.
Nothing is run here. Odds and ranges are chosen so that all that can go wrong does so often; no statistics of
real sites stand behind them (assumed).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import Enum
from random import Random

from controller.settings.values import Site
from sim.faults.book import FAULTS, struck_by
from sim.faults.fault import Fault, Strikes
from sim.world import World

HOW_MANY_FAULTS = (0, 1, 1, 1, 2)
"""One night in five is whole, one in five has a pair of faults."""
LATEST_S = 9_000.0
"""Faults strike from the start to well into the keeping."""
PERCENTS = ("2", "10", "40", "90")

CURES = {
    "pump-stalled": "pump-free",
    "board-cut": "board-joined",
    "estop-pressed": "estop-released",
    "button-down": "button-up",
    "leak": "leak-dry",
    "supply-lost": "supply-back",
    "probe-switch-stuck": "probe-switch-free",
}
"""What a person does about a fault, where its name does not say so."""
CURED_BY_BEGINNING = {
    "frames-": "frames-well",
    "selector-": "selector-auto",
    "float-": "float-free",
    "second-float-": "second-float-free",
    "low-float-": "low-float-free",
    "level-": "level-well",
    "flow-": "flow-well",
    "probe-": "probe-well",
    "cell-": "cell-well",
    "tank-thermometer-": "tank-thermometer-well",
    "supply-thermometer-": "supply-thermometer-well",
    "scale-": "scale-well",
}
_CURING = {*CURES.values(), *CURED_BY_BEGINNING.values(), "pump-well"}


class Habit(Enum):
    """What the person in charge does when the batch is held. The value is what people read."""

    ABSENT = "nobody comes"
    MENDING = "mends what is broken, acknowledges and resumes"
    HASTY = "acknowledges and resumes without mending anything"
    STOPPING = "acknowledges and stops the batch"
    MEDDLING = "turns, presses and orders at any time"


@dataclass(frozen=True, slots=True)
class Meddling:
    """One act at the wall, or one order, at any time."""

    at_s: float
    act: str


ORDERS = ("hold", "restart", "stop", "acknowledge")
WALL_ACTS = (
    "selector-off",
    "selector-hand",
    "selector-auto",
    "button-down",
    "button-up",
    "estop-pressed",
    "estop-released",
)


@dataclass(frozen=True, slots=True)
class DrawnNight:
    """One night as drawn. `reacts_s` is how long the person takes, `keeps_s` how long a fed tank is kept."""

    number: int
    seed: int
    recipe: str
    strikes: tuple[tuple[float, str], ...]
    habit: Habit
    reacts_s: float
    keeps_s: float
    meddling: tuple[Meddling, ...]
    world: World


def draw(site: Site, world: World, seed: int, number: int) -> DrawnNight:
    """Draw night `number` of the campaign `seed` on a site whose simulated world is `world`."""
    chance = Random(f"{seed}/{number}")
    habit = chance.choice(tuple(Habit))
    return DrawnNight(
        number=number,
        seed=chance.randrange(2**31),
        recipe=chance.choice(sorted(site.recipes)),
        strikes=_strikes(site, chance),
        habit=habit,
        reacts_s=chance.uniform(30.0, 1800.0),
        keeps_s=chance.uniform(700.0, 4000.0),
        meddling=_meddling(chance) if habit is Habit.MEDDLING else (),
        world=_world(world, chance),
    )


def forms(site: Site) -> dict[str, tuple[str, ...]]:
    """Give every fault that breaks something, with each way in which it can be written for this site."""
    return {name: _ways(fault, site) for name, fault in FAULTS.items() if name not in _CURING}


def cure_of(strike: str) -> str | None:
    """Give the fault entry that undoes one, None where nothing does."""
    name, colon, of = strike.partition(":")
    if name in CURES:
        return CURES[name]
    for beginning, cure in CURED_BY_BEGINNING.items():
        if name.startswith(beginning):
            return f"{cure}{colon}{of}" if FAULTS[cure].strikes is not Strikes.ONE_THING else cure
    if FAULTS[name].strikes is Strikes.PUMP:
        return f"pump-well:{of}"
    return None


def _ways(fault: Fault, site: Site) -> tuple[str, ...]:
    if fault.strikes is Strikes.PERCENT:
        return tuple(f"{fault.name}:{percent}" for percent in PERCENTS)
    there = struck_by(fault, site)
    return tuple(f"{fault.name}:{of}" for of in there) if there else (fault.name,)


def _strikes(site: Site, chance: Random) -> tuple[tuple[float, str], ...]:
    known = forms(site)
    names = chance.sample(sorted(known), chance.choice(HOW_MANY_FAULTS))
    strikes = [(round(chance.uniform(1.0, LATEST_S), 1), chance.choice(known[name])) for name in names]
    return tuple(sorted(strikes))


def _meddling(chance: Random) -> tuple[Meddling, ...]:
    acts: Sequence[str] = (*ORDERS, *WALL_ACTS)
    times = sorted(round(chance.uniform(1.0, LATEST_S), 1) for _ in range(chance.randrange(1, 9)))
    return tuple(Meddling(at_s, chance.choice(acts)) for at_s in times)


def _world(world: World, chance: Random) -> World:
    """Draw tonight's water, room and wear around what the site's world says."""
    supply, probe, level = world.supply, world.probe, world.level
    hardness = chance.uniform(0.5, 1.6)
    return replace(
        world,
        supply=replace(
            supply,
            temperature_c=chance.uniform(11.0, 24.0),
            flow_share=chance.uniform(0.7, 1.05),
            meter_error=chance.uniform(-0.015, 0.015),
            mmol_l=tuple(amount * hardness for amount in supply.mmol_l),
        ),
        room=replace(
            world.room, temperature_c=chance.uniform(8.0, 28.0), co2_ppm=chance.uniform(400.0, 900.0)
        ),
        probe=replace(probe, offset_mv=probe.offset_mv + chance.uniform(-1.5, 1.5)),
        level=replace(level, level_offset_mm=chance.uniform(-2.0, 2.0)),
        pumps=replace(world.pumps, calibration_error=chance.uniform(0.0, 0.02)),
        bottles=replace(world.bottles, stood_hours=chance.uniform(1.0, 36.0)),
    )
