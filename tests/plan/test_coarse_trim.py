"""A pump too coarse for the trims of a recipe is told of before the night."""

from __future__ import annotations

from dataclasses import replace

import pytest
from small_site import recipe, small_site

from controller.measure.trim_sizing import FIRST_DOSE_ROOM_PH
from controller.plan import coarse_trim
from controller.plan.coarse_trim import coarse_trim_findings

NARROW = {"ph_low": 5.95, "ph_high": 6.15}


def warned(final_l: float, **window: float) -> list[str]:
    made = replace(recipe(("kelp", 1.5), final_l=final_l), **window)
    site = small_site(made)
    return [finding.text for finding in coarse_trim_findings(site, made, ["vinegar"], final_l)]


def test_planning_and_trimming_agree_on_when_a_first_trim_is_smaller() -> None:
    assert coarse_trim.FIRST_DOSE_ROOM_PH == FIRST_DOSE_ROOM_PH


@pytest.mark.parametrize(("final_l", "window"), [(180.0, {}), (180.0, NARROW), (40.0, {})])
def test_a_fine_pump_is_not_worth_a_word(final_l: float, window: dict[str, float]) -> None:
    # 0.05 mL/L, at least 1 mL: beside a window 0.3 wide inside its guard a first trim is 0.6 times that.
    assert warned(final_l, **window) == []


def test_a_small_batch_whose_first_trim_is_below_the_floor_is_told_of() -> None:
    assert warned(18.0)[0].startswith(
        "the first trim would be 0.9 mL of vinegar, and pump p5 meters no less than 1 mL, so the tank may end"
        " untrimmed and not released: mix more at once"
    )


def test_a_narrow_window_needs_a_finer_pump_than_a_wide_one() -> None:
    assert warned(60.0) == []
    assert warned(60.0, **NARROW)[0].startswith(
        "just outside the window the first trim would be 0.72 mL of vinegar, and pump p5 meters no less than "
        "1 mL, so a tank with little buffering may end there and not released: mix more at once"
    )
