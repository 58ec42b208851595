"""Amounts told of a simulated night are what came into the tank, whichever way it came, and what did not."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest
from bare_sites import unweighed

from controller.record.words import millilitres
from controller.settings.load import load_site
from controller.settings.values import Site
from sim.explain.amounts import summed
from sim.explain.page import explain_html
from sim.faults import FaultPlan
from sim.night import Night, run_night
from sim.outcome import NightOutcome, where_it_ran

KELP = "kelp_extract"
SOAPBARK = "soapbark_extract"


def words_of(html: str) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", html).split())


def how_far_off_of(html: str) -> str:
    return words_of(html.partition("<h2>How far off</h2>")[2].partition("<h2>")[0])


def amounts_of(html: str) -> str:
    return words_of(html.partition("<h2>Amounts</h2>")[2].partition("<h2>")[0])


@pytest.fixture(scope="module")
def with_bottles_above(demo_site: Site, tmp_path_factory: pytest.TempPathFactory) -> Site:
    """Stand the bottles above the outlet, so that a tube that no roller shuts any more is a siphon."""
    folder = tmp_path_factory.mktemp("above") / "site"
    shutil.copytree(demo_site.folder, folder)
    world = folder / "simulated.toml"
    text = world.read_text(encoding="utf-8")
    assert "above_tank_m = -0.6" in text
    world.write_text(text.replace("above_tank_m = -0.6", "above_tank_m = 0.3"), encoding="utf-8")
    return load_site(folder)


def told_on_record(outcome: NightOutcome, name: str) -> float:
    return next(addition.recorded_ml for addition in outcome.additions if addition.input == name)


def night_of(site: Site, folder: Path, fault: str) -> NightOutcome:
    return run_night(site, "fruiting", 3, folder, faults=FaultPlan(((60.0, fault),)), traced=True)


def test_what_ran_in_by_gravity_is_in_the_true_amount_and_told(
    with_bottles_above: Site, tmp_path: Path
) -> None:
    outcome = night_of(with_bottles_above, tmp_path, f"failed-tube:{KELP}")
    pumped_ml = sum(
        outcome.ml_by_dose[dose.intent.event.dose_id]
        for dose in outcome.record.doses
        if dose.intent.event.input == KELP
    )
    ran = outcome.ran[KELP]
    assert pumped_ml < 0.6 * 475.5
    assert ran.siphoned_ml > 300.0
    # By pump and by gravity it comes to what went out of the bottle, and nothing is counted twice.
    assert ran.delivered_ml == pytest.approx(pumped_ml + ran.siphoned_ml, abs=1e-6)
    told = {addition.input: addition.true_ml for addition in outcome.additions}
    assert told[KELP] == pytest.approx(ran.delivered_ml)
    shown = {row.input: row.true_ml for row in summed(outcome, ()) if row.purpose == "addition"}
    assert shown[KELP] == told[KELP]
    html = explain_html(outcome, with_bottles_above)
    more_ml = ran.delivered_ml - told_on_record(outcome, KELP)
    assert more_ml > 100.0
    assert f"Amount of an input −{more_ml:.1f} mL kelp extract" in how_far_off_of(html)
    assert "that of an input less all that came, by pump or gravity" in how_far_off_of(html)
    said = amounts_of(html)
    assert f"Kelp extract: ran in by gravity {ran.siphoned_ml:.1f} mL" in said
    assert f"{ran.delivered_ml:.1f} mL" in said


def test_what_went_to_the_floor_is_told_and_is_not_in_the_tank(demo_site: Site, tmp_path: Path) -> None:
    # Where a scale stands under the bottle, the tube is seen to drain into it before its dose.
    outcome = night_of(unweighed(demo_site), tmp_path, f"split:{KELP}")
    ran = outcome.ran[KELP]
    assert ran.spilled_ml > 10.0
    said = amounts_of(explain_html(outcome, demo_site))
    assert f"Kelp extract: went to the floor {ran.spilled_ml:.1f} mL" in said
    assert "ran in by gravity" not in said


def test_an_input_of_which_nothing_came_is_told_by_what_the_record_claims(
    demo_site: Site, tmp_path: Path
) -> None:
    # Where nothing weighs a bottle and the level cannot tell, a pump that turns is believed.
    outcome = night_of(unweighed(demo_site), tmp_path, f"seized:{SOAPBARK}")
    claimed_ml = told_on_record(outcome, SOAPBARK)
    assert outcome.ran[SOAPBARK].delivered_ml == 0.0
    assert claimed_ml == pytest.approx(90.0, abs=1.0)
    said = how_far_off_of(explain_html(outcome, demo_site))
    assert f"Amount of an input +{claimed_ml:.1f} mL soapbark extract" in said


def test_an_input_of_which_nothing_came_and_the_level_told_is_no_difference_to_the_truth(
    demo_site: Site, tmp_path: Path
) -> None:
    outcome = night_of(unweighed(demo_site), tmp_path, f"seized:{KELP}")
    assert outcome.ran[KELP].delivered_ml == 0.0
    (kelp,) = [row for row in summed(outcome, ()) if row.input == KELP and row.purpose == "addition"]
    assert (kelp.recorded_ml, kelp.true_ml) == (told_on_record(outcome, KELP), 0.0)
    assert kelp.recorded_ml == 0.0


def test_what_came_that_nobody_wanted_has_its_row(demo_site: Site, tmp_path: Path) -> None:
    """Two suction tubes are on each other's pumps: the tank gets what the recipe does not hold."""
    outcome = night_of(demo_site, tmp_path, "swapped:gypsum_suspension")
    came_ml = outcome.ran["rock_phosphate_suspension"].delivered_ml
    assert came_ml > 15.0
    assert "rock_phosphate_suspension" not in {addition.input for addition in outcome.additions}
    said = amounts_of(explain_html(outcome, demo_site))
    assert f"Rock phosphate suspension (not wanted) 0.00 mL 0.00 mL {millilitres(came_ml)}" in said


def test_an_addition_and_a_trim_of_one_input_share_what_came(demo_site: Site, tmp_path: Path) -> None:
    outcome = run_night(demo_site, "fruiting", 3, tmp_path, traced=True)
    acid = outcome.ran["citric_acid"].delivered_ml
    assert acid > 10.0
    assert "citric_acid" not in {addition.input for addition in outcome.additions}
    assert outcome.added_ml("citric_acid") == pytest.approx(0.0, abs=1e-6)
    assert "Nothing ran into the tank by gravity, and no pump spilled anything." in amounts_of(
        explain_html(outcome, demo_site)
    )


def test_every_pump_is_told_by_the_name_of_what_it_draws_from(demo_site: Site, tmp_path: Path) -> None:
    night = Night(demo_site, "plain_flush", 1, tmp_path)
    night.close()
    assert set(where_it_ran(night.rig.plant.dosing)) == {*demo_site.inputs, "rinse_water"}
