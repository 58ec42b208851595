"""Nights in which something harmful breaks and the controller does not see it, with the harm measured.

No such night is safe, and none is called so here. What is held is that the simulator tells the truth about
it: the tank is released, and the law that was broken is named with what was really in the tank. Most are of
a site that weighs nothing and has one pH probe; a few are not seen on the demo site either. A fault that the
controller learns to see fails its test here and moves to `test_nights_with_faults.py`.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from bare_sites import bare
from fault_nights import FRUITING, PLAIN, RIGHT_AT_ONCE, TAP, Ended, night_with, site_in_truth

from controller.settings.values import Site

BARE = "bare "
"""Before a recipe: on a site that weighs nothing and has one probe."""
EASY = "plain water that is right at once"
AGITATOR = "agitator-dead:gypsum_suspension"
SWAPPED = "swapped:gypsum_suspension"
DRAIN = "drain-stuck-open"

# Together in a night with it: fault, share of the recorded mL that is truly in the tank, why nobody sees it.
# Too little for the level to tell; several of them in one night would be seen by it.
SHORT = [
    (
        "worn:fish_hydrolysate",
        0.85,
        BARE + FRUITING,
        (AGITATOR,),
        "counts are believed, and 100 mL are little",
    ),
    ("air-leak:potassium_humate", 0.73, BARE + FRUITING, (SWAPPED,), "air counts like liquid"),
    ("seized:soapbark_extract", 0.0, BARE + FRUITING, (), "steps are counted, not the rotor's turns"),
    ("unprimed:soapbark_extract", 0.72, BARE + FRUITING, (), "air counts like liquid"),
]

# Fault, moment, recipe, law, words of the violation, why nobody sees it.
ALONE = [
    ("stir-dead", 700.0, FRUITING, 12, "off its mean strength", "nothing tells whether the pump moves water"),
    ("permit-welded", 100.0, EASY, 12, "not released", "no contact tells where the relay stands"),
    ("probe-wet-plug", 10.0, BARE + PLAIN, 12, "true pH", "half a voltage still moves with each trim"),
    ("probe-drifting", 10.0, BARE + PLAIN, 12, "true pH", "an offset looks like another pH"),
    ("probe-dried-out", 2600.0, BARE + FRUITING, 12, "true pH", "so do a low slope and an offset"),
]
STRUCK = [fault for fault, *_ in SHORT] + [AGITATOR, SWAPPED, DRAIN]
STRUCK += [fault for fault, *_ in ALONE]

Run = Callable[..., Ended]


@pytest.fixture(scope="module")
def run(demo_site: Site, tmp_path_factory: pytest.TempPathFactory) -> Run:
    """Run a night once, however many tests ask for it."""
    easy_site = site_in_truth(tmp_path_factory.mktemp("easy"), (TAP, RIGHT_AT_ONCE))
    known: dict[object, Ended] = {}

    def once(recipe: str, *strikes: tuple[float, str]) -> Ended:
        if (recipe, strikes) not in known:
            folder: Path = tmp_path_factory.mktemp("night")
            site = bare(demo_site) if recipe.startswith(BARE) else demo_site
            chosen = (easy_site, PLAIN) if recipe == EASY else (site, recipe.removeprefix(BARE))
            known[recipe, strikes] = night_with(chosen[0], folder, chosen[1], *strikes)
        return known[recipe, strikes]

    return once


def unseen(night: Ended) -> bool:
    return night.released and night.raised == [] and night.reason == "stop by tester"


def short_night(run: Run, fault: str) -> Ended:
    (row,) = (row for row in SHORT if row[0] == fault)
    _, _, recipe, others, _ = row
    return run(recipe, *((10.0, other) for other in others), (700.0, fault))


@pytest.mark.parametrize(("fault", "share", "recipe", "others", "why"), SHORT)
def test_an_amount_that_did_not_come_is_not_seen_and_the_truth_is_told(
    run: Run, fault: str, share: float, recipe: str, others: tuple[str, ...], why: str
) -> None:
    night = short_night(run, fault)
    name = fault.partition(":")[2]
    assert unseen(night), why
    assert night.fed is not None
    assert night.fed.ml[name] / night.recorded_ml[name] == pytest.approx(share, abs=0.02)
    (broken,) = night.violations
    assert broken.law == 12
    assert f"{night.fed.ml[name]:.0f} mL of {name} is fed" in broken.text


def test_an_agitator_that_stands_is_not_seen_and_gives_sludge_from_the_floor_of_the_bottle(run: Run) -> None:
    night = short_night(run, "worn:fish_hydrolysate")
    assert unseen(night), "nothing tells whether the agitator turns"
    assert night.fed is not None
    assert night.fed.solids["gypsum_suspension"] > 2.0
    assert "gypsum_suspension had" in night.violations[0].text


def test_the_tube_of_another_bottle_is_not_seen_and_puts_its_liquid_into_the_tank(run: Run) -> None:
    night = short_night(run, "air-leak:potassium_humate")
    assert unseen(night), "what a tube hangs in is nowhere proven"
    assert night.fed is not None
    assert night.fed.ml["gypsum_suspension"] == 0.0
    assert night.fed.ml["rock_phosphate_suspension"] == pytest.approx(360.0, rel=0.03)
    assert "mL of rock_phosphate_suspension is fed, wanted were 0 mL" in night.violations[0].text


@pytest.mark.parametrize(("fault", "at_s", "recipe", "law", "words", "why"), ALONE)
def test_a_fault_that_is_not_seen_breaks_a_law_that_is_told(
    run: Run, fault: str, at_s: float, recipe: str, law: int, words: str, why: str
) -> None:
    night = run(recipe, (at_s, fault))
    assert unseen(night), why
    (broken,) = night.violations
    assert broken.law == law
    assert words in broken.text


@pytest.mark.parametrize(
    ("fault", "recipe", "at_s", "off"),
    [
        ("probe-wet-plug", BARE + PLAIN, 10.0, (-1.5, -0.5)),
        ("probe-drifting", BARE + PLAIN, 10.0, (0.1, 0.6)),
        ("probe-dried-out", BARE + FRUITING, 2600.0, (0.1, 0.6)),
        ("stir-dead", FRUITING, 700.0, (0.1, 0.6)),
    ],
)
def test_how_far_the_true_ph_is_off_the_window_of_a_tank_whose_fault_is_not_seen(
    run: Run, fault: str, recipe: str, at_s: float, off: tuple[float, float]
) -> None:
    fed = run(recipe, (at_s, fault)).fed
    assert fed is not None
    beyond = fed.ph - 6.3 if fed.ph > 6.05 else fed.ph - 5.8
    assert off[0] <= beyond <= off[1]


def test_a_drain_that_opens_while_a_tank_is_kept_passes_for_feeding(run: Run) -> None:
    night = run(EASY, (2700.0, DRAIN))
    assert (night.result, night.raised, night.violations) == ("complete", [], ())
    assert night.rig.plant.volume_l < 10.0, "a tank of feed is lost, and nobody is told"
