"""Nights that a scale under the bottle saves, and nights in which a scale itself fails.

A row is a fault, its moment, the recipe, the site and the alarm that must come first. On a bare site
nothing is weighed and there is one probe; what the level tells there is in `test_nights_without_scales.py`.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from bare_sites import bare
from fault_nights import FRUITING, PLAIN, YOUNG_PLANTS, Ended, must_end_safe, night_with

from controller.run.situation import Cause
from controller.settings.values import Site

DEMO, BARE = "demo", "bare"
BEFORE_S = 700.0
"""Before the first dose of the fruiting feed."""

NIGHTS = [
    ("blocked:kelp_extract", BEFORE_S, FRUITING, DEMO, Cause.DOSE_MISSING),
    ("suction-blocked:kelp_extract", BEFORE_S, FRUITING, DEMO, Cause.DOSE_MISSING),
    ("half-blocked:molasses", BEFORE_S, FRUITING, DEMO, Cause.DOSE_MISSING),
    ("air-leak:potassium_humate", BEFORE_S, FRUITING, DEMO, Cause.DOSE_MISSING),
    ("seized:soapbark_extract", BEFORE_S, FRUITING, DEMO, Cause.DOSE_MISSING),
    ("failed-tube:fish_hydrolysate", BEFORE_S, FRUITING, DEMO, Cause.DOSE_MISSING),
    ("agitator-dead:gypsum_suspension", 10.0, FRUITING, DEMO, Cause.DOSE_EXCESS),
    ("swapped:gypsum_suspension", BEFORE_S, FRUITING, DEMO, Cause.DOSE_MISSING),
    ("swapped:citric_acid", 10.0, PLAIN, DEMO, Cause.DOSE_MISSING),
    ("blocked:citric_acid", 10.0, PLAIN, DEMO, Cause.DOSE_MISSING),
    ("blocked:citric_acid", 10.0, PLAIN, BARE, Cause.TRIM_FAILED),
    ("blocked:rinse_water", 100.0, FRUITING, DEMO, Cause.DOSE_MISSING),
    ("scale-jammed:shelf_two", 10.0, FRUITING, DEMO, Cause.DOSE_MISSING),
    ("probe-broken-glass", 1500.0, PLAIN, DEMO, Cause.PROBE_DOUBTFUL),
    ("probe-broken-glass", 1500.0, PLAIN, BARE, Cause.TRIM_FAILED),
]
# A scale that fails while its dose runs, or is not there: told, and the dose is counted.
NOT_BELIEVED = [
    ("scale-bumped:shelf_two", 850.0),
    ("scale-leaned-on:shelf_two", 850.0),
    ("scale-lost:shelf_two", 850.0),
]
STRUCK = [fault for fault, *_ in (*NIGHTS, *NOT_BELIEVED)]


@pytest.mark.parametrize(
    ("fault", "at_s", "recipe", "fitted", "cause"),
    NIGHTS,
    ids=lambda value: str(getattr(value, "name", value)),
)
def test_what_is_weighed_or_read_twice_is_seen_and_ends_safe(
    demo_site: Site, tmp_path: Path, fault: str, at_s: float, recipe: str, fitted: str, cause: Cause
) -> None:
    site = bare(demo_site) if fitted == BARE else demo_site
    must_end_safe(night_with(site, tmp_path, recipe, (at_s, fault)), cause, at_s)


@pytest.mark.parametrize(("fault", "at_s"), NOT_BELIEVED)
def test_a_scale_that_fails_in_a_dose_is_told_and_the_dose_is_counted(
    demo_site: Site, tmp_path: Path, fault: str, at_s: float
) -> None:
    night = night_with(demo_site, tmp_path, FRUITING, (at_s, fault))
    assert {alarm for alarm, _ in night.raised} == {Cause.SCALE_LOST.value}
    assert (night.released, night.violations) == (True, ())
    assert bases(night)["fish_hydrolysate"] == {"counted"}
    assert bases(night)["molasses"] == {"weighed"}


def test_a_rinse_that_nothing_weighs_any_more_is_counted(demo_site: Site, tmp_path: Path) -> None:
    night = night_with(demo_site, tmp_path, YOUNG_PLANTS, (10.0, "scale-lost:rinse_can"))
    assert {alarm for alarm, _ in night.raised} == {Cause.SCALE_LOST.value}
    assert (night.released, night.violations) == (True, ())


def bases(night: Ended) -> dict[str, set[str]]:
    """By what the planned amounts of each input are known."""
    found: dict[str, set[str]] = {}
    for dose in night.record.doses:
        if dose.result is not None and dose.intent.event.purpose == "addition":
            found.setdefault(dose.intent.event.input, set()).add(dose.result.event.basis)
    return found


def test_a_worn_tube_is_topped_up_by_weight_and_told(demo_site: Site, tmp_path: Path) -> None:
    night = night_with(demo_site, tmp_path, FRUITING, (BEFORE_S, "worn:fish_hydrolysate"))
    assert night.raised[0][0] in (Cause.PUMP_DRIFTS.value, Cause.PUMP_DRIFTED.value)
    assert night.violations == ()
    assert night.fed is None or night.fed.ml["fish_hydrolysate"] == pytest.approx(720.0, rel=0.02)
    assert night.held or night.fed is not None
