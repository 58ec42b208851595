"""How faults are named, what may stand behind a colon, and what is refused, with the nearest there is."""

from __future__ import annotations

import re

import pytest

from controller.settings.values import Site
from sim.faults import FAULTS, FaultPlan, UnknownFault
from sim.faults.book import FAMILIES, fault_of, struck_by, words_of
from sim.faults.fault import Strikes
from sim.rig import SimRig
from sim.world import load_world


def test_names_are_words_joined_by_hyphens_and_no_two_alike() -> None:
    names = [fault.name for family in FAMILIES.values() for fault in family]
    assert len(set(names)) == len(names) == len(FAULTS)
    assert all(re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", name) for name in names)


@pytest.mark.parametrize("name", FAULTS)
def test_every_fault_is_told_in_one_sentence_that_names_what_it_strikes(name: str) -> None:
    fault = FAULTS[name]
    assert re.fullmatch(r"[A-Z].*[^.]\.", fault.words)
    assert ("{of}" in fault.words) == (fault.strikes is not Strikes.ONE_THING)
    told = words_of(name if fault.strikes is Strikes.ONE_THING else f"{name}:fish_hydrolysate")
    assert "{" not in told
    assert "_" not in told


STRIKING = [name for name, fault in FAULTS.items() if fault.strikes is not Strikes.SCALE]


@pytest.mark.parametrize("name", STRIKING)
def test_every_fault_can_strike_everything_it_may_name(demo_site: Site, name: str) -> None:
    fault = FAULTS[name]
    targets = struck_by(fault, demo_site)
    assert bool(targets) == (fault.strikes is not Strikes.ONE_THING)
    texts = [f"{name}:{of}" for of in targets[:12]] or [name]
    rig = SimRig(demo_site, load_world(demo_site), 1)
    plan = FaultPlan([(0.0, text) for text in texts])
    plan.strike(rig, 0.0)
    assert [text for _, text in plan.struck] == texts


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("leek", "no such fault; did you mean 'leak'"),
        ("bloked:molasses", "no such fault; did you mean 'blocked:INPUT'"),
        ("leak:molasses", "there is but one thing to strike; write leak"),
        ("leak:", "there is but one thing to strike; write leak"),
        ("blocked", "say what it strikes: blocked:INPUT"),
        ("blocked:", "say what it strikes: blocked:INPUT"),
        ("blocked:mollases", "cannot strike 'mollases'; did you mean blocked:molasses"),
        ("blocked:rinse", "did you mean blocked:rinse_water"),
        ("bottle-empty:rinse_water", "it cannot strike 'rinse_water'; it may strike fish_hydrolysate, kelp"),
        ("agitator-dead:molasses", "it cannot strike 'molasses'"),
        ("scale-lost:molasses", "this site has nothing that it could strike"),
        ("frames-lost:0", "a whole number from 1 to 100"),
        ("frames-lost:1.5", "a whole number from 1 to 100"),
        ("", "no such fault"),
        (":", "no such fault"),
    ],
)
def test_what_cannot_be_is_refused_with_the_nearest(demo_site: Site, text: str, says: str) -> None:
    with pytest.raises(UnknownFault) as refused:
        fault_of(text, demo_site)
    assert says in str(refused.value)


def test_faults_of_one_moment_strike_in_the_order_given() -> None:
    plan = FaultPlan([(9.0, "leak"), (5.0, "frames-well"), (5.0, "frames-lost:20")])
    assert [text for _, text in plan.strikes] == ["frames-well", "frames-lost:20", "leak"]


def test_a_plan_refuses_a_wrong_name_at_once_and_a_wrong_input_as_it_strikes(demo_site: Site) -> None:
    with pytest.raises(UnknownFault, match="say what it strikes"):
        FaultPlan([(10.0, "worn")])
    plan = FaultPlan([(0.0, "worn:treacle")])
    with pytest.raises(UnknownFault, match="treacle"):
        SimRig(demo_site, load_world(demo_site), 1, plan)
