"""The page that explains a good night: whole, readable without eyes, and true to what the night was."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest
from explained_page import Page, drawings, explained, lines, must_hold

from controller.record.report_plots import DRY_PROBE_SHARE
from controller.settings.values import Site
from sim.explain.amounts import summed
from sim.explain.differences import TrueCourse, doses
from sim.explain.page import explain_html
from sim.explain.world_numbers import numbers
from sim.outcome import NightOutcome


@pytest.fixture(scope="module")
def good(demo_site: Site, tmp_path_factory: pytest.TempPathFactory) -> NightOutcome:
    return explained(demo_site, tmp_path_factory.mktemp("good"))


@pytest.fixture(scope="module")
def html(good: NightOutcome, demo_site: Site) -> str:
    return explain_html(good, demo_site)


def test_a_good_night_is_told_whole(html: str, good: NightOutcome) -> None:
    page = must_hold(html)
    assert "Released as fit to feed" in page.text
    assert "Nothing. The errors of this world are further down." in page.text
    assert {*drawings(html)} == {
        *(name + kept for name in ("level", "ph", "temperature", "conductivity") for kept in ("", "-kept")),
        "amounts",
    }  # fmt: skip


def test_true_is_a_solid_line_and_measured_a_dotted_one(html: str) -> None:
    for name, drawing in drawings(html).items():
        if name != "amounts":
            assert lines(drawing, "true") == 1, name
            assert lines(drawing, "dotted") >= 1, name
    assert re.search(r"svg \.dotted\{[^}]*stroke-dasharray:0 [\d.]+\}", html)
    assert not re.search(r"svg \.true\{[^}]*dasharray", html)


def test_the_window_the_accepted_readings_and_the_trims_stand_on_the_ph_plots(
    html: str, good: NightOutcome
) -> None:
    drawn = drawings(html)
    both = (drawn["ph"], drawn["ph-kept"])
    diamonds = sum(len(one.findall("path[@class='mark']")) for one in both)
    assert diamonds == len(good.record.accepted)
    trims = [dose for dose in good.record.doses if dose.intent.event.purpose == "trim"]
    assert trims
    assert len(drawn["ph"].findall("path[@class='tick']")) == len(trims)
    assert all(one.find("rect[@class='band']") is not None for one in both)


def test_every_plot_has_its_unit_on_its_axis(html: str) -> None:
    units = {"level": "L", "ph": "pH", "temperature": "°C", "conductivity": "µS/cm"}
    for name, unit in units.items():
        words = [one.text or "" for one in drawings(html)[name].findall("text")]
        assert unit in words
    assert any("%" in (one.text or "") for one in drawings(html)["amounts"].findall("text"))


def test_names_in_a_wide_table_keep_room_for_their_words_on_a_narrow_screen(html: str) -> None:
    """Cells may break anywhere, and a table that scrolls would leave its names one letter a line."""
    assert re.search(r"\.wide\{overflow-x:auto", html)
    (width_rem,) = re.findall(r"tbody th\{[^}]*min-width:([\d.]+)rem", html)
    assert float(width_rem) >= 6.5


def test_no_words_touch_on_the_scale_of_a_plot(html: str) -> None:
    for name, drawing in drawings(html).items():
        if name == "amounts":
            continue
        at = sorted(float(one.attrib["y"]) for one in drawing.findall("text") if float(one.attrib["x"]) <= 34)
        assert min(after - before for before, after in pairwise(at)) >= 12.0, name


def test_the_numbers_of_the_page_are_those_of_the_night(
    html: str, good: NightOutcome, demo_site: Site
) -> None:
    assert good.seen is not None
    at = {sample.at_s: sample for sample in good.seen.samples}
    words = Page(html).text
    assert all(reading.row.at_s in at for reading in good.record.readings), "a reading without its truth"

    # By hand, so that nothing the page counts with judges itself.
    def largest(pairs: Sequence[tuple[float | None, float | None]]) -> float:
        found = [seen - true for seen, true in pairs if seen is not None and true is not None]
        return max(found, key=abs)

    accepted = [(r.event.ph, at[r.row.at_s].ph_at_probe) for r in good.record.accepted]
    # An electrode a day after its calibration, in a mixed and settled tank, is off by hundredths of pH.
    assert 0.0 < abs(largest(accepted)) < 0.1
    level = largest([(r.event.level_l, at[r.row.at_s].volume_l) for r in good.record.readings])
    unmixed = largest([(s.ph_at_probe, s.ph) for s in at.values() if s.probe_wet])
    for number in (f"{largest(accepted):+.3f} pH", f"{level:+.2f} L", f"{unmixed:+.3f} pH"):
        assert number.replace("-", "\N{MINUS SIGN}") in words


def test_the_true_line_ends_at_what_the_night_itself_says_was_true(
    html: str, good: NightOutcome, demo_site: Site, tmp_path: Path
) -> None:
    """The night takes its truth from the plant, apart from the trace: at the release, and where it ended."""
    assert good.seen is not None
    released = min(good.seen.samples, key=lambda sample: abs(sample.at_s - good.truth.at_s))
    assert abs(released.at_s - good.truth.at_s) < 60.0
    assert released.ph == pytest.approx(good.truth.ph, abs=0.01)
    ended = explained(demo_site, tmp_path, (4000.0, "estop-pressed"))
    drawing = drawings(explain_html(ended, demo_site))["ph"]
    assert f"last pH {ended.truth.ph:.2f}." in str(drawing[1].text).partition("True:")[2]
    assert ended.seen is not None
    assert ended.seen.samples[-1].ph == pytest.approx(ended.truth.ph, abs=1e-4)


def test_sensors_are_judged_by_the_water_around_them_and_the_rest_is_not_yet_mixed(
    html: str, good: NightOutcome
) -> None:
    assert good.seen is not None
    at = {sample.at_s: sample for sample in good.seen.samples}
    meter, water = [], []
    for reading in good.record.readings:
        sample, read = at[reading.row.at_s], reading.event.ec_us_cm
        if read is not None and sample.probe_wet and sample.ec_us_cm and sample.ec_at_probe_us_cm:
            meter.append(100.0 * (read / sample.ec_at_probe_us_cm - 1.0))
            water.append(100.0 * (sample.ec_at_probe_us_cm / sample.ec_us_cm - 1.0))
    assert max(map(abs, meter)) < max(map(abs, water)), "the night has no moment that shows the difference"
    words = Page(html).text.partition("Conductivity")[2].partition("Broken on purpose")[0]
    assert f"{max(meter, key=abs):+.1f} %".replace("-", "\N{MINUS SIGN}") in words
    assert "Not yet mixed" in words
    others = [r.t_s for r in good.record.readings if not r.event.accepted]
    assert max(others) > good.truth.at_s, "no plain reading while the tank was kept"
    assert "while the tank was moving, or while it was kept" in words


def test_readings_are_shown_from_where_the_simulated_probe_is_wet(html: str, good: NightOutcome) -> None:
    """Long before the share of the final volume below which a record must take the probe for dry."""
    assert good.seen is not None
    at = {sample.at_s: sample for sample in good.seen.samples}
    course = TrueCourse(good.record, good.seen.samples)
    shallow = [
        reading
        for reading in good.record.readings
        if at[reading.row.at_s].probe_wet
        and at[reading.row.at_s].volume_l < DRY_PROBE_SHARE * good.record.started.event.final_l
    ]
    assert shallow
    assert all(course.wet(course.before(reading)) for reading in shallow)


def test_amounts_are_those_that_simulate_prints_and_solids_are_told_of_suspensions_only(
    html: str, good: NightOutcome, demo_site: Site
) -> None:
    assert good.seen is not None
    every = doses(good.record, good.ml_by_dose, good.seen.solids_share_by_dose)
    rows = summed(good, every)
    planned = {row.input: row for row in rows if row.purpose == "addition"}
    told = {addition.input: addition for addition in good.additions}
    assert list(planned) == list(told)
    for name, row in planned.items():
        assert row.target_ml == told[name].target_ml
        assert row.recorded_ml == pytest.approx(told[name].recorded_ml)
        assert row.true_ml == pytest.approx(told[name].true_ml)
        assert (row.solids_share is not None) == (demo_site.inputs[name].form.value == "suspension")
    squares = drawings(html)["amounts"].findall("rect[@class='mark']")
    assert len(squares) == sum(row.solids_share is not None for row in rows)
    assert len(drawings(html)["amounts"].findall("circle")) == len(rows)


def test_a_night_that_was_not_traced_has_no_page(good: NightOutcome, demo_site: Site) -> None:
    with pytest.raises(ValueError, match="not traced"):
        explain_html(replace(good, seen=None), demo_site)


def test_the_errors_of_the_world_are_those_of_its_file(
    html: str, good: NightOutcome, demo_site: Site
) -> None:
    assert good.seen is not None
    world, words = good.seen.world, Page(html).text
    assert (
        f"{world.probe.offset_mv:g} mV; the controller believes {demo_site.rig.probe.offset_mv:g} mV" in words
    )
    assert f"at most ±{100 * world.pumps.calibration_error:g} %" in words
    assert f"reads {100 * world.supply.meter_error:+.1f} %" in words
    probe = world.probe
    assert (
        f"stir pump {probe.stray_mv:g} mV, air pump {probe.stray_air_mv:g} mV, "
        f"dosing pumps {probe.stray_motor_mv:g} mV"
    ) in words
    believed_ph = demo_site.rig.probe.isopotential_ph
    assert f"{probe.isopotential_ph:g}; the controller believes {believed_ph:g}" in words
    assert f"{probe.drift_mv_h:g} mV an hour" in words
    assert f"Conductivity cell reads {100 * world.cell.cell_error:+.1f} %" in words
    assert f"takes {100 * world.level.foam_share:g} % of the foam's height" in words
    for key, value in numbers(world):
        assert f"{key} {value}" in words
