"""Nights that a scale under the bottle saves, and nights in which a scale itself fails.

A row is a fault, its moment, the recipe, the site and the alarm that must come first. On a bare site
nothing is weighed and there is one probe; what the level tells there is in `test_nights_without_scales.py`.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from bare_sites import bare
from fault_nights import FRUITING, PLAIN, YOUNG_PLANTS, Ended, must_end_safe, night_with

from controller.record.batch_record import DoseRecord
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
# A tube that runs back while another pump draws, from its scale or from another, or in a rinse.
MEANWHILE = [
    ("unprimed:soapbark_extract", 850.0),
    ("unprimed:kelp_extract", 850.0),
    ("unprimed:kelp_extract", 1025.0),
]
# A scale that fails while its dose runs, or is not there: told, and the dose is counted.
NOT_BELIEVED = [
    ("scale-bumped:shelf_two", 850.0),
    ("scale-leaned-on:shelf_two", 850.0),
    ("scale-lost:shelf_two", 850.0),
]
STRUCK = [fault for fault, *_ in (*NIGHTS, *MEANWHILE, *NOT_BELIEVED)]


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


@pytest.mark.parametrize(("fault", "at_s"), MEANWHILE)
def test_a_tube_that_runs_back_while_another_pump_draws_is_seen(
    demo_site: Site, tmp_path: Path, fault: str, at_s: float
) -> None:
    must_end_safe(night_with(demo_site, tmp_path, FRUITING, (at_s, fault)), Cause.DOSE_MISSING, at_s)


def test_a_blockage_that_comes_free_in_a_dose_is_held(demo_site: Site, tmp_path: Path) -> None:
    strikes = (863.0, "blocked:fish_hydrolysate"), (883.0, "pump-well:fish_hydrolysate")
    must_end_safe(night_with(demo_site, tmp_path, FRUITING, *strikes), Cause.DOSE_MISSING, 863.0)


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
    assert list(bases(night, "rinse").values()) == [{"counted"}]


def bases(night: Ended, purpose: str = "addition") -> dict[str, set[str]]:
    """By what the amounts moved for a purpose are known, by input."""
    found: dict[str, set[str]] = {}
    for dose in night.record.doses:
        if dose.result is not None and dose.intent.event.purpose == purpose:
            found.setdefault(dose.intent.event.input, set()).add(dose.result.event.basis)
    return found


def additions(night: Ended, name: str) -> list[DoseRecord]:
    """The motions in which an input's planned amount was given."""
    doses = night.record.doses
    return [one for one in doses if (one.intent.event.purpose, one.intent.event.input) == ("addition", name)]


def test_a_worn_tube_is_topped_up_by_weight_and_told(demo_site: Site, tmp_path: Path) -> None:
    night = night_with(demo_site, tmp_path, FRUITING, (BEFORE_S, "worn:fish_hydrolysate"))
    # Told once, and nothing else: what the top-up made good is no missing dose.
    assert [alarm for alarm, _ in night.raised] in ([Cause.PUMP_DRIFTS.value], [Cause.PUMP_DRIFTED.value])
    assert (night.held, night.violations) == (False, ())
    first, second = additions(night, "fish_hydrolysate")
    planned = first.intent.event.target_ml
    assert first.result is not None
    assert second.result is not None
    # The worn tube gave too little, and the second motion was asked for what the scale missed.
    assert first.result.event.ml < 0.9 * planned
    assert second.intent.event.target_ml == pytest.approx(planned - first.result.event.ml, abs=0.1)
    assert first.result.event.basis == second.result.event.basis == "weighed"
    assert night.recorded_ml["fish_hydrolysate"] == pytest.approx(planned, rel=0.01)
    assert night.fed is not None
    assert night.fed.ml["fish_hydrolysate"] == pytest.approx(planned, rel=0.01)
