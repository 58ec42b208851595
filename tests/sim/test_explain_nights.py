"""The page that explains a night, of nights that ended badly, and the figures that it is made of."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from explained_page import Page, drawings, explained, must_hold
from full_disk import fill_disk_after
from pytest_mock import MockerFixture

from controller.settings.values import Site
from sim.explain.differences import Difference, Dosed, TrueCourse, together
from sim.explain.page import explain_html
from sim.explain.plots import LEVEL
from sim.explain.world_errors import FAULT_WORDS
from sim.faults import FAULTS


@pytest.mark.parametrize(
    ("strikes", "must_say"),
    [
        ([(300.0, "supply-lost")], "Nothing was dosed."),
        ([(2000.0, "estop-pressed")], "emergency stop"),
        ([(600.0, "level-frozen")], "it repeats what it read"),
        ([(2800.0, "probe-open")], "The cable of the pH probe broke"),
        ([(800.0, "level-lost"), (700.0, "supply-back")], "gave no reading any more"),
        ([(5.0, "leak")], "became wet"),
        ([(12_000.0, "board-cut")], "The line to the board was cut"),
    ],
    ids=lambda value: value[0][1] if isinstance(value, list) else "",
)
def test_a_night_that_ended_badly_is_told_as_well(
    demo_site: Site, tmp_path: Path, strikes: list[tuple[float, str]], must_say: str
) -> None:
    outcome = explained(demo_site, tmp_path, *strikes)
    html = explain_html(outcome, demo_site)
    page = must_hold(html)
    assert must_say in page.text
    assert "do not feed" in page.text
    for _, name in strikes:
        assert f"into the night: {name}" in page.text
        assert FAULT_WORDS[name] in page.text
    flags = [
        len(one.findall("path[@class='alarm']")) for name, one in drawings(html).items() if "level" in name
    ]
    assert sum(flags) == len(strikes)


def test_a_frozen_level_shows_as_a_gap_between_measured_and_true(demo_site: Site, tmp_path: Path) -> None:
    outcome = explained(demo_site, tmp_path, (600.0, "level-frozen"))
    assert outcome.seen is not None
    course = TrueCourse(outcome.record, outcome.seen.samples)
    last = course.differences(outcome.record.readings, LEVEL.measured_of, LEVEL.true_of)[-1]
    # Some 13 L/min run in until the flow meter and the level disagree by more than is allowed.
    assert last.amount < -demo_site.rig.fill.disagreement_l


def test_a_fault_that_came_too_late_is_not_said_to_have_struck(demo_site: Site, tmp_path: Path) -> None:
    outcome = explained(demo_site, tmp_path, (2000.0, "estop-pressed"), (90_000.0, "leak"))
    assert outcome.struck == ((2000.0, "estop-pressed"),)
    assert outcome.as_json()["faults"] == [
        {"at_s": 2000.0, "name": "estop-pressed", "struck": True},
        {"at_s": 90_000.0, "name": "leak", "struck": False},
    ]
    assert "leak was to strike 25 h 00 min into the night, which had ended by then." in explain_html(
        outcome, demo_site
    )


@pytest.mark.parametrize("writes", [2, 13, 40])
def test_a_night_with_a_full_disk_shows_what_was_recorded_and_the_truth_beyond(
    demo_site: Site, tmp_path: Path, mocker: MockerFixture, writes: int
) -> None:
    fill_disk_after(mocker, writes)
    outcome = explained(demo_site, tmp_path, recipe="young_plants")
    page = must_hold(explain_html(outcome, demo_site))
    assert "The record could not be kept" in page.text
    assert "the disk is full" in page.text


def test_a_night_without_additions_is_told_as_well(demo_site: Site, tmp_path: Path) -> None:
    page = must_hold(explain_html(explained(demo_site, tmp_path, recipe="plain_flush"), demo_site))
    assert "Safety law" not in page.text


def test_a_supply_that_was_changed_is_not_said_to_be_what_it_was(demo_site: Site, tmp_path: Path) -> None:
    outcome = explained(demo_site, tmp_path, (30.0, "supply-warm"), (400.0, "estop-pressed"))
    words = Page(explain_html(outcome, demo_site)).text.partition("Errors of this world")[2]
    before, found, _ = words.partition("15.5 °C")
    assert "as the night began" in before
    assert "broken on purpose later is not in these figures" in before
    assert found


def test_every_fault_that_there_is_has_words() -> None:
    assert set(FAULT_WORDS) == set(FAULTS)


def test_doses_of_one_input_are_added_up_with_their_solids_weighed() -> None:
    parts = [
        Dosed("gypsum", "trim", 1.0, 100.0, 100.0, 100.0, 1.0),
        Dosed("gypsum", "trim", 2.0, 300.0, 300.0, 300.0, 0.6),
    ]
    both = together("gypsum", "trim", 400.0, parts)
    assert (both.recorded_ml, both.true_ml) == (400.0, 400.0)
    assert both.solids_share == pytest.approx(0.7)
    unknown = together("gypsum", "trim", 400.0, [parts[0], replace(parts[1], recorded_ml=None)])
    assert unknown.recorded_ml is None
    assert unknown.recorded_share is None


def test_a_difference_is_measured_less_true() -> None:
    found = Difference(0.0, 6.2, 6.0)
    assert found.amount == pytest.approx(0.2)
    assert found.share == pytest.approx(0.2 / 6.0)


def test_the_same_night_makes_the_same_page(demo_site: Site, tmp_path: Path) -> None:
    pages = []
    for name in ("a", "b"):
        (tmp_path / name).mkdir()
        pages.append(
            explain_html(explained(demo_site, tmp_path / name, (2000.0, "estop-pressed")), demo_site)
        )
    assert pages[0] == pages[1]
