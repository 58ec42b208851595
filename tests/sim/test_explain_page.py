"""The page that explains a night: whole, readable without eyes, and true to what the night was."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree

import pytest
from pytest_mock import MockerFixture

from controller.record.fault import RecordFault
from controller.record.journal import Journal
from controller.record.report_plots import DRY_PROBE_SHARE
from controller.record.tables import Entry
from controller.settings.values import Site
from sim.explain.amounts import summed
from sim.explain.differences import Difference, Dosed, TrueCourse, doses, together
from sim.explain.page import explain_html
from sim.explain.plots import LEVEL
from sim.explain.world_errors import FAULT_WORDS
from sim.explain.world_numbers import numbers
from sim.faults import FAULTS, FaultPlan
from sim.night import run_night
from sim.outcome import NightOutcome

VOID = {"meta", "line", "path", "rect", "circle", "polyline"}
HEADINGS = ["How far off", "Broken on purpose", "Over the night", "Amounts", "Errors of this world"]


class Page(HTMLParser):
    """Reads a page, insists that every tag is closed in order, and keeps what it says."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: list[str] = []
        self.attributes: list[tuple[str, str | None]] = []
        self.headings: list[tuple[str, str]] = []
        self.words: list[str] = []
        self.feed(html)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += attrs
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += attrs

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if self.open and self.open[-1] in ("h1", "h2", "h3"):
            self.headings.append((self.open[-1], data))
        if "style" not in self.open:
            self.words.append(data)

    @property
    def text(self) -> str:
        return " ".join(self.words)


def drawings(html: str) -> dict[str, ElementTree.Element]:
    found = [ElementTree.fromstring(one) for one in re.findall(r"<svg.*?</svg>", html, re.DOTALL)]
    return {one[0].attrib["id"].removesuffix("-title"): one for one in found}


def lines(drawing: ElementTree.Element, kind: str) -> int:
    """Count what is drawn as a line of one class."""
    return len(drawing.findall(f"polyline[@class='{kind}']"))


def must_hold(html: str) -> Page:
    """Hold what is so of every page, whatever became of the night."""
    page = Page(html)
    assert [words for level, words in page.headings if level == "h2"] == HEADINGS
    assert page.headings[0][0] == "h1"
    assert not re.search(r"https?:|//\w|url\(|@import", html)
    assert not {"script", "img", "link", "iframe", "object", "embed", "form", "base"} & set(page.tags)
    names = {name for name, _ in page.attributes}
    assert not {"src", "href", "srcset", "action", "xlink:href"} & names
    assert not [name for name in names if name.startswith("on")]
    drawn = drawings(html)
    assert page.tags.count("svg") == len(drawn), "two drawings have the same name"
    for one in drawn.values():
        assert [part.tag for part in one[:2]] == ["title", "desc"]
        assert all(part.text for part in one[:2])
        assert one.attrib["aria-labelledby"] == f"{one[0].attrib['id']} {one[1].attrib['id']}"
    assert page.text.index("only a simulation knows what is true") < page.text.index("How far off")
    assert not re.search(r"\b(nan|inf|None)\b", page.text)
    return page


def explained(
    site: Site, folder: Path, *strikes: tuple[float, str], recipe: str = "fruiting"
) -> NightOutcome:
    return run_night(site, recipe, 3, folder, faults=FaultPlan(strikes), traced=True)


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
    assert outcome.seen is not None
    assert outcome.seen.struck == ((2000.0, "estop-pressed"),)
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
    real_append, done = Journal.append, [0]

    def append(journal: Journal, entries: Sequence[Entry]) -> int:
        done[0] += 1
        if done[0] > writes:
            raise RecordFault(journal.path, "the disk is full", "free some space")
        return real_append(journal, entries)

    mocker.patch.object(Journal, "append", append)
    outcome = explained(demo_site, tmp_path, recipe="young_plants")
    page = must_hold(explain_html(outcome, demo_site))
    assert "The record could not be kept" in page.text
    assert "the disk is full" in page.text


def test_a_night_without_additions_is_told_as_well(demo_site: Site, tmp_path: Path) -> None:
    page = must_hold(explain_html(explained(demo_site, tmp_path, recipe="plain_flush"), demo_site))
    assert "Safety law" not in page.text


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
