"""The report: one page that needs nothing from outside, says the verdict first, and shows every amount."""

from __future__ import annotations

import json
import re
import sqlite3
from dataclasses import replace
from html.parser import HTMLParser
from xml.etree import ElementTree

import pytest
from believable_batch import ADDITIONS, Night, put_nights, wall_at

from controller.record.amounts import additions
from controller.record.batch_record import read_batch
from controller.record.events import (
    AlarmChange,
    BatchEnded,
    BatchStarted,
    Decision,
    DoseIntent,
    DoseResult,
    OperatorAct,
    Reading,
    StepStarted,
)
from controller.record.export import batch_as_json, export_csv
from controller.record.journal import Journal
from controller.record.page import STYLE
from controller.record.plot_svg import Plot, draw
from controller.record.report import report_html
from controller.record.writer import InlineWriter

HOSTILE = "<script>alert(1)</script>\"'&><img src=x onerror=alert(2)>\x00\x1b[31m\u202e</title></svg>"
VOID = {"meta", "br", "img", "link", "input", "hr"}


class Page(HTMLParser):
    """Reads a page, insists that every tag is closed in order, and keeps words, tags and attributes."""

    def __init__(self, html):
        super().__init__()
        self.open, self.tags, self.attributes, self.words = [], [], [], []
        self.feed(html)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes += attrs
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes += attrs

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        if "style" not in self.open:
            self.words.append(data)

    @property
    def text(self):
        return " ".join(self.words)


def record_of(path, puts):
    ledger = InlineWriter(Journal(path), wall_at)
    for at_s, event in puts:
        ledger.put(at_s, event)
    ledger.close()
    assert ledger.fault is None
    return read_batch(path)


@pytest.fixture(scope="module")
def record(tmp_path_factory):
    path = tmp_path_factory.mktemp("report") / "record.sqlite"
    put_nights(path)
    return read_batch(path)


@pytest.fixture(scope="module")
def html(record):
    return report_html(record)


def svgs(html):
    return [ElementTree.fromstring(found) for found in re.findall(r"<svg.*?</svg>", html, re.DOTALL)]


def test_the_page_is_whole_and_fetches_nothing(html):
    page = Page(html)
    assert not re.search(r"https?:|//\w|url\(|@import", html)
    assert not {"script", "img", "link", "iframe", "object", "embed", "form", "base"} & set(page.tags)
    names = {name for name, _ in page.attributes}
    assert not {"src", "href", "srcset", "action", "xlink:href"} & names
    assert not [name for name in names if name.startswith("on")]


def test_the_verdict_comes_before_everything_else(html):
    words = Page(html).text
    verdict = words.index("Released as fit to feed")
    assert verdict < words.index("Because: settled and steady at pH 6.08, inside the window 5.8 to 6.3")
    for later in (
        "What is in the tank",
        "Steps",
        "Level and pH",
        "Decisions about pH",
        "Alarms",
        "Who did what",
    ):
        assert verdict < words.index(later)


def test_every_amount_is_there_with_its_unit_difference_and_uncertainty(html, record):
    words = Page(html).text
    for _name, title, rate, ml in ADDITIONS:
        row = words[words.index(title) :]
        assert rate in row
        assert f"{ml:.1f} mL" in row
    results = {dose.intent.event.input: dose.result.event for dose in record.doses}
    for name, *_ in ADDITIONS:
        assert f"± {results[name].uncertainty_ml:.2f} mL" in words
    assert "9.00 mL" in words[words.index("pH trims") :]
    assert "Citric acid" in words[words.index("pH trims") :]
    assert "citric_acid" not in words
    assert "480.0 mL" in words[words.index("Water through the dosing line") :]
    assert "Counted: Fish" in words
    assert "nothing else has seen them" in words


def test_the_page_tells_which_amounts_were_weighed(tmp_path):
    def weighed(event):
        by_scale = isinstance(event, DoseResult) and event.dose_id == 101
        return replace(event, basis="weighed") if by_scale else event

    record = record_of(
        tmp_path / "record.sqlite", [(s, weighed(event)) for s, event in Night(1, 10.0).events()]
    )
    words = Page(report_html(record)).text
    (line,) = [line for line in additions(record) if line.by == "weighed"]
    assert f"Weighed: {line.title}." in words
    assert f"± {line.uncertainty_ml:.2f} mL, weighed" in words


def test_differences_carry_their_sign_in_ml_and_percent(tmp_path):
    night = [
        (at_s, replace(event, ml=350.0) if isinstance(event, DoseResult) and event.dose_id == 101 else event)
        for at_s, event in Night(1, 10.0).events()
    ]
    words = Page(report_html(record_of(tmp_path / "record.sqlite", night))).text
    assert "−5.90 mL" in words
    assert "−1.7 %" in words


def test_every_step_act_alarm_and_decision_is_told(html, record):
    words = Page(html).text
    for step in record.steps:
        assert step.started.event.title in words
    assert "nearly empty" in words
    assert "Change the bottle." in words
    assert "raised 03:33:05, acknowledged 03:33:25, cleared 03:33:45" in words
    assert "Mira" in words[words.index("What people, the schedule and remote commands asked for") :]
    assert "9.0 mL moved pH by −1.04" in words
    assert f"{record.chain.rows} rows, and the chain holds" in words
    assert record.chain.head.chain in words


def test_each_drawing_is_well_formed_and_names_itself(html):
    drawings = svgs(html)
    assert len(drawings) == 5
    seen = set()
    for drawing in drawings:
        assert drawing.find("title").text
        assert drawing.find("desc").text
        labelled = drawing.get("aria-labelledby").split()
        assert labelled == [drawing.find("title").get("id"), drawing.find("desc").get("id")]
        assert not seen & set(labelled)
        seen |= set(labelled)


def test_nothing_is_drawn_outside_its_drawing(html):
    for drawing in svgs(html):
        _, _, width, height = map(float, drawing.get("viewBox").split())
        for polyline in drawing.iter("polyline"):
            for point in polyline.get("points").split():
                x, y = map(float, point.split(","))
                assert 0 <= x <= width
                assert 0 <= y <= height
        for rect in drawing.iter("rect"):
            assert float(rect.get("x")) >= 0
            assert float(rect.get("x")) + float(rect.get("width")) <= width + 2.5


def test_the_timeline_has_a_block_for_each_step_before_the_keeping(html, record):
    timeline = svgs(html)[0]
    blocks = [rect for rect in timeline.iter("rect") if rect.find("title") is not None]
    assert len(blocks) == len(record.steps) - 1
    assert "Fish hydrolysate".lower() in blocks[3].find("title").text


def test_the_ph_plot_has_the_window_as_a_band_and_a_diamond_for_each_accepted_reading(html):
    ph = next(drawing for drawing in svgs(html) if drawing.find("title").text == "pH of the tank")
    assert [path.get("class") for path in ph.iter("path")] == ["mark", "mark"]
    band = [rect for rect in ph.iter("rect") if rect.get("class") == "band"]
    assert len(band) == 1
    assert float(band[0].get("height")) > 10
    words = [text.text for text in ph.iter("text")]
    assert "window 5.8 to 6.3" in words
    assert "6.08" in words


def test_a_line_is_not_drawn_over_readings_that_were_not_there(tmp_path):
    night = list(Night(1, 10.0).events())
    looks = [place for place, put in enumerate(night) if isinstance(put[1], Reading)]
    for place in looks[40:50]:
        night[place] = (night[place][0], replace(night[place][1], ph=None, level_l=None))
    html = report_html(record_of(tmp_path / "record.sqlite", night))
    level, ph = svgs(html)[1:3]
    assert len(list(level.iter("polyline"))) == 2
    assert len(list(ph.iter("polyline"))) == 2
    assert "no reading" in Page(html).text


def test_no_ph_is_drawn_while_the_probe_hangs_in_air(tmp_path):
    night = [
        (at_s, replace(event, ph=11.9) if isinstance(event, Reading) and event.level_l < 18.0 else event)
        for at_s, event in Night(1, 10.0).events()
    ]
    assert [event for _, event in night if isinstance(event, Reading) and event.ph == 11.9]
    ph = svgs(report_html(record_of(tmp_path / "record.sqlite", night)))[2]
    assert "to pH 7.63" in ph.find("desc").text
    assert "11.9" not in ph.find("desc").text


@pytest.mark.parametrize("away", range(-24, 25, 4))
def test_no_label_touches_the_line(away):
    # Units are chosen so that a value of 1 is one unit of the drawing.
    level = 100.0 + away
    trace = tuple((float(at_s), level) for at_s in range(0, 3601, 10))
    plot = Plot(
        name="p",
        title="t",
        description="d",
        start=wall_at(0.0),
        from_s=0.0,
        to_s=3600.0,
        traces=(trace,),
        decimals=0,
        least_span=196.0,
        diamonds=((3600.0, level),),
        goal=(100.0, "final 100.0 L"),
    )
    drawing = ElementTree.fromstring(draw(plot))
    line_y = float(drawing.find("polyline").get("points").split(",")[1].split()[0])
    labels = [text for text in drawing.iter("text") if text.get("class") in (None, "strong")]
    assert [text.text for text in labels] == ["final 100.0 L", f"{level:.1f}"]
    # 12 px letters reach about 10 above their base line and 3 below it.
    for text in labels:
        base_y = float(text.get("y"))
        assert not base_y - 10 <= line_y <= base_y + 3, text.text
        assert 10 <= base_y <= 210


def test_each_plot_has_its_readings_as_a_table(html):
    page = Page(html)
    assert page.tags.count("details") == 5
    assert page.text.count("the export has them all") >= 2
    assert "612 µS/cm" in page.text
    assert "18.4 °C" in page.text


def hostile_night():
    for at_s, event in Night(1, 10.0).events(title=HOSTILE):
        words = {
            field: HOSTILE
            for field in event.__dataclass_fields__
            if isinstance(getattr(event, field), str)
            and field not in ("kind", "purpose", "plan_json", "result")
        }
        if isinstance(event, BatchStarted):
            words["plan_json"] = '{"additions": [{"input": "%s", "ml": 5, "rate": "<b>", "title": "<i>&"}]}'
        yield at_s, replace(event, **words)


def test_no_name_becomes_markup(tmp_path):
    record = record_of(tmp_path / "record.sqlite", hostile_night())
    html = report_html(record)
    page = Page(html)
    assert not {"script", "img", "i", "b"} & set(page.tags)
    assert page.tags.count("title") == 1 + sum(len(list(drawing.iter("title"))) for drawing in svgs(html))
    assert not [name for name, _ in page.attributes if name.startswith("on")]
    assert "\x00" not in html
    assert "\x1b" not in html
    assert page.text.count("<script>alert(1)</script>") >= 20
    assert len(svgs(html)) == 5
    assert json.dumps(batch_as_json(record))
    assert export_csv(record)


@pytest.mark.parametrize(
    "lost", [Reading, StepStarted, DoseIntent, AlarmChange, OperatorAct, Decision, BatchEnded]
)
def test_a_batch_without_some_kind_of_event_still_has_a_report(tmp_path, lost):
    night = [put for put in Night(1, 10.0).events() if type(put[1]) is not lost]
    html = report_html(record_of(tmp_path / "record.sqlite", night))
    Page(html)
    assert len(svgs(html)) >= 1


def test_a_batch_of_which_only_the_beginning_is_known_is_not_released(tmp_path):
    start = next(put for put in Night(1, 10.0).events() if isinstance(put[1], BatchStarted))
    page = Page(report_html(record_of(tmp_path / "record.sqlite", [start])))
    assert "Not released so far: do not feed" in page.text
    assert "not dosed" in page.text


@pytest.mark.parametrize(
    ("result", "released", "words"),
    [
        ("complete", True, "Released as fit to feed"),
        ("stopped", True, "Released, then withdrawn: do not feed"),
        ("aborted", False, "Not released: do not feed"),
    ],
)
@pytest.mark.parametrize("short", [True, False])
def test_the_page_says_whether_to_feed_and_what_speaks_against_it(tmp_path, result, released, words, short):
    night = [
        (at_s, replace(event, result=result, released=released) if isinstance(event, BatchEnded) else event)
        for at_s, event in Night(1, 10.0).events()
    ]
    if short:
        night = [
            (at_s, replace(event, outcome="short") if isinstance(event, DoseResult) else event)
            for at_s, event in night
        ]
    said = Page(report_html(record_of(tmp_path / "record.sqlite", night))).text
    assert words in said
    assert ("But:  Fish hydrolysate is short." in said) is (short and result == "complete")
    assert ("Also:  Fish hydrolysate is short." in said) is (short and result != "complete")


def test_a_damaged_record_is_told_at_the_top_and_row_by_row_at_the_end(tmp_path):
    path = tmp_path / "record.sqlite"
    put_nights(path)
    with sqlite3.connect(path) as careless:
        careless.execute("UPDATE dose_result SET ml = 360.0 WHERE dose_id = 101")
        (seq,) = careless.execute("SELECT seq FROM dose_result WHERE dose_id = 101").fetchone()
    careless.close()
    html = report_html(read_batch(path))
    words = Page(html).text
    assert words.index("The record of this batch is damaged") < words.index("What is in the tank")
    assert f"row {seq} (dose_result) is not as it was written" in words
    assert "the chain holds" not in words


def test_a_long_night_does_not_make_a_long_page(tmp_path):
    night = list(Night(1, 10.0).events())
    keep = [place for place, put in enumerate(night) if isinstance(put[1], Reading)][-1]
    at_s, look = night[keep]
    many = [(at_s + number, replace(look, ph=6.0 + number % 7 / 100)) for number in range(6000)]
    later = [(at + 6001.0, event) for at, event in night[keep + 1 :]]
    html = report_html(record_of(tmp_path / "record.sqlite", [*night[:keep], *many, *later]))
    assert len(html) < 120_000
    Page(html)


def luminance(colour):
    """Relative luminance, WCAG 2.1."""
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    red, green, blue = (c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one, other):
    """Contrast ratio, WCAG 2.1."""
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def test_the_contrast_formula_gives_the_known_extremes():
    # WCAG 2.1: black on white is 21:1; #767676 on white is the usual example of just over 4.5:1.
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert 4.5 < contrast("#767676", "#ffffff") < 4.6


@pytest.mark.parametrize("scheme", [0, 1])
def test_text_and_drawings_stand_out_in_light_and_dark(scheme):
    # WCAG 2.1, 1.4.3 (AA): text 4.5:1. 1.4.11: drawings 3:1.
    named = [dict(re.findall(r"--(\w+):(#\w{6})", root)) for root in re.findall(r":root\{[^}]*\}", STYLE)][
        scheme
    ]
    for words in ("ink", "soft", "good", "warn", "bad"):
        assert contrast(named[words], named["paper"]) >= 4.5
    assert contrast(named["ink"], named["band"]) >= 4.5
    assert contrast(named["water"], named["paper"]) >= 3
    assert contrast(named["water"], named["band"]) >= 3
    assert contrast(named["good"], named["paper"]) >= 3
