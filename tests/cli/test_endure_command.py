"""`tankhand endure`: the same sums for any number of jobs, and broken laws told with their replay."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner

from controller.cli import main
from controller.settings.values import Site
from sim.campaign.draw import draw
from sim.campaign.one_night import NightResult, Strike
from sim.campaign.tally import Tally
from sim.laws import Violation
from sim.world import load_world

NIGHTS = 4


def endured(*arguments: str) -> tuple[int, dict[str, object]]:
    result = CliRunner().invoke(main, ["endure", "--json", *arguments])
    told = json.loads(result.stdout)
    for measured in ("wall_s", "speedup"):
        assert told.pop(measured) > 0
    return result.exit_code, told


def test_the_same_seed_gives_the_same_sums_for_any_number_of_jobs() -> None:
    side_by_side = endured("--nights", str(NIGHTS), "--seed", "5", "--jobs", "2")
    one_by_one = endured("--nights", str(NIGHTS), "--seed", "5", "--jobs", "1")
    assert side_by_side == one_by_one
    code, told = one_by_one
    assert code == (1 if told["violations"] else 0)
    assert told["nights"] == NIGHTS
    assert isinstance(told["outcomes"], dict)
    assert sum(told["outcomes"].values()) == NIGHTS


def test_one_night_runs_alone_and_says_what_was_drawn_for_it(demo_site: Site) -> None:
    drawn = draw(demo_site, load_world(demo_site), 5, 2)
    result = CliRunner().invoke(main, ["endure", "--seed", "5", "--only", "2"])
    assert f"Recipe {drawn.recipe}" in result.stdout
    assert all(fault in result.stdout for _, fault in drawn.strikes)
    assert result.stdout.splitlines()[-1].startswith("0 broken laws;")


@pytest.fixture
def tally() -> Tally:
    tally = Tally(seed=7)
    strike = Strike("blocked:kelp_extract", 10.0, safe_after_s=None)
    broken = Violation(12, 90.0, "a tank with 0 mL of kelp_extract is fed")
    tally.add(
        NightResult(0, "complete, released before", (broken,), (strike,), noticed=False, simulated_s=60.0)
    )
    seen = Strike("blocked:molasses", 5.0, safe_after_s=40.0)
    tally.add(NightResult(1, "stopped, never released", (), (seen,), noticed=True, simulated_s=60.0))
    pair = (seen, Strike("leak", 1.0, safe_after_s=2.0))
    tally.add(NightResult(2, "aborted, never released", (), pair, noticed=True, simulated_s=60.0))
    return tally


def test_a_broken_law_is_told_with_the_command_that_runs_its_night_again(tally: Tally) -> None:
    told = tally.as_json(wall_s=0.1)
    assert told["violations"] == [
        {
            "law": 12,
            "seed": 7,
            "night": 0,
            "text": "a tank with 0 mL of kelp_extract is fed",
            "replay": "tankhand endure --seed 7 --only 0",
        }
    ]
    assert told["speedup"] == 1800


def test_harm_that_nothing_noticed_is_counted_where_the_fault_struck_alone(tally: Tally) -> None:
    blocked, leak = tally.faults["blocked"], tally.faults["leak"]
    assert (blocked.struck, blocked.alone, blocked.noticed, blocked.unseen_harm) == (3, 2, 1, 1)
    assert (leak.struck, leak.alone, leak.unseen_harm) == (1, 0, 0)
    assert blocked.as_json()["safe_after_s"] == {"median": 40.0, "worst": 40.0}
