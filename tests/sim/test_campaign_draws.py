"""Drawing the nights of a campaign: the same for a seed, and all that can break is drawn and possible."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from controller.settings.values import Site
from sim.campaign.draw import Habit, cure_of, draw, forms
from sim.faults.book import FAULTS, fault_of
from sim.matter.ions import TOTALS
from sim.water import solve
from sim.world import World, load_world

DRAW_AND_PRINT = """
from controller.settings.load import demo_site_folder, load_site
from sim.campaign.draw import draw
from sim.world import load_world
site = load_site(demo_site_folder())
world = load_world(site)
print([draw(site, world, 9, number) for number in range(40)])
"""


@pytest.fixture(scope="module")
def world(demo_site: Site) -> World:
    return load_world(demo_site)


def test_a_seed_draws_the_same_nights_whatever_the_hash_seed() -> None:
    printed = set()
    for hash_seed in ("0", "1", "random"):
        of = os.environ | {"PYTHONHASHSEED": hash_seed}
        drawn = subprocess.run(
            [sys.executable, "-c", DRAW_AND_PRINT], env=of, capture_output=True, text=True, check=True
        )
        printed.add(drawn.stdout)
    assert len(printed) == 1
    assert "DrawnNight(number=39" in printed.pop()


def test_another_number_or_seed_draws_another_night(demo_site: Site, world: World) -> None:
    drawn = [draw(demo_site, world, seed, number) for seed in (1, 2) for number in range(20)]
    assert len({(night.seed, night.strikes) for night in drawn}) == 40


def test_every_fault_recipe_and_habit_is_drawn_and_may_strike_this_site(
    demo_site: Site, world: World
) -> None:
    drawn = [draw(demo_site, world, 1, number) for number in range(3000)]
    struck = {strike for night in drawn for _, strike in night.strikes}
    for strike in struck:
        fault_of(strike, demo_site)
    assert {strike.partition(":")[0] for strike in struck} == set(forms(demo_site))
    assert {night.recipe for night in drawn} == set(demo_site.recipes)
    assert {night.habit for night in drawn} == set(Habit)
    assert {len(night.strikes) for night in drawn} == {0, 1, 2}


def test_what_mends_is_never_drawn_and_everything_else_is(demo_site: Site) -> None:
    mending = {name for name, fault in FAULTS.items() if name not in forms(demo_site)}
    cures = {cure_of(way) for ways in forms(demo_site).values() for way in ways} - {None}
    assert mending == {str(cure).partition(":")[0] for cure in cures}


def test_a_cure_is_a_fault_that_may_strike_the_same_thing(demo_site: Site) -> None:
    for ways in forms(demo_site).values():
        for way in ways:
            cure = cure_of(way)
            if cure is not None:
                fault_of(cure, demo_site)
                assert cure.partition(":")[2] in ("", way.partition(":")[2])


def test_drawn_water_is_water_that_a_supply_could_bring(demo_site: Site, world: World) -> None:
    for number in range(25):
        supply = draw(demo_site, world, 4, number).world.supply
        content = dict(zip(TOTALS, supply.mmol_l, strict=False))
        assert 6.5 < solve(content, supply.temperature_c).ph < 9.5
