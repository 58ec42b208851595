"""How faults are named, what may stand behind a colon, and what is refused, with the nearest there is."""

from __future__ import annotations

import re

import pytest
from bare_sites import bare

from controller.settings.values import Site
from sim.faults import FAULTS, FaultPlan, UnknownFault
from sim.faults.book import FAMILIES, fault_of, struck_by, words_of
from sim.faults.fault import UNNAMED, Strikes
from sim.rig import SimRig
from sim.world import load_world

ALONE = (Strikes.ONE_THING, Strikes.SWITCH)


def test_names_are_words_joined_by_hyphens_and_no_two_alike() -> None:
    names = [fault.name for family in FAMILIES.values() for fault in family]
    assert len(set(names)) == len(names) == len(FAULTS)
    assert all(re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", name) for name in names)


@pytest.mark.parametrize("name", FAULTS)
def test_every_fault_is_told_in_one_sentence_that_names_what_it_strikes(name: str) -> None:
    fault = FAULTS[name]
    assert re.fullmatch(r"[A-Z].*[^.]\.", fault.words)
    assert ("{of}" in fault.words) == (fault.strikes not in ALONE)
    told = words_of(name if fault.strikes in UNNAMED else f"{name}:fish_hydrolysate")
    assert "{" not in told
    assert "_" not in told


def test_a_fault_of_a_probe_is_told_with_the_probe_that_is_named() -> None:
    assert words_of("probe-lost") == "The pH probe gave no reading any more."
    assert words_of("probe-lost:second") == "The second pH probe gave no reading any more."
    assert words_of("scale-lost:shelf_one") == "The scale at shelf one did not answer any more."


@pytest.mark.parametrize("name", FAULTS)
def test_every_fault_can_strike_everything_it_may_name(demo_site: Site, name: str) -> None:
    fault = FAULTS[name]
    targets = struck_by(fault, demo_site)
    assert bool(targets) == (fault.strikes not in ALONE)
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
        ("scale-lost:treacle", "cannot strike 'treacle'; it may strike shelf_one, shelf_two"),
        ("scale-lost:rinse_cann", "did you mean scale-lost:rinse_can?"),
        ("scale-lost", "say what it strikes: scale-lost:SCALE"),
        ("probe-lost:secnd", "did you mean probe-lost:second?"),
        ("probe-lost:third", "cannot strike 'third'; it may strike first, second"),
        ("probe-lost:", "say what it strikes: probe-lost[:second]"),
        ("probe-switch-stuck:second", "there is but one thing to strike; write probe-switch-stuck"),
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


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("probe-lost:second", "cannot strike 'second'; it may strike first"),
        ("probe-switch-stuck", "this site has no second pH probe, and so no switch"),
        ("scale-lost:molasses", "this site has nothing that it could strike"),
    ],
)
def test_what_is_not_fitted_cannot_be_struck(demo_site: Site, text: str, says: str) -> None:
    with pytest.raises(UnknownFault) as refused:
        fault_of(text, bare(demo_site))
    assert says in str(refused.value)
    assert fault_of("probe-lost", bare(demo_site))[1] == ""


def test_faults_of_one_moment_strike_in_the_order_given() -> None:
    plan = FaultPlan([(9.0, "leak"), (5.0, "frames-well"), (5.0, "frames-lost:20")])
    assert [text for _, text in plan.strikes] == ["frames-well", "frames-lost:20", "leak"]


def test_a_plan_refuses_a_wrong_name_at_once_and_a_wrong_input_as_it_strikes(demo_site: Site) -> None:
    with pytest.raises(UnknownFault, match="say what it strikes"):
        FaultPlan([(10.0, "worn")])
    plan = FaultPlan([(0.0, "worn:treacle")])
    with pytest.raises(UnknownFault, match="treacle"):
        SimRig(demo_site, load_world(demo_site), 1, plan)
