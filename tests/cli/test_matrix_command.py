"""`tankhand check --matrix`: one table in five forms, and the board's own trips beside it."""

from __future__ import annotations

import csv
import io
import json
from xml.etree import ElementTree

import pytest
from click.testing import CliRunner, Result

from controller.cli import main
from controller.cli.matrix_board import board_trips
from controller.run.interlock_table import TABLE
from controller.run.matrix import EFFECTS, Mark, matrix
from controller.service.board_settings import limits_of
from controller.settings.values import Site
from firmware_bridge import registers

SVG = "{http://www.w3.org/2000/svg}"


def asked(*words: str) -> Result:
    return CliRunner().invoke(main, ["check", *words])


def told(form: str) -> str:
    result = asked("--matrix", form)
    assert (result.exit_code, result.stderr) == (0, "")
    return result.stdout


def test_json_tells_every_cause_with_every_effect(demo_site: Site) -> None:
    answer = json.loads(told("json"))
    assert answer == json.loads(asked("--matrix", "--json").stdout)
    assert answer["effects"] == list(EFFECTS)
    assert [row["cause"] for row in answer["causes"]] == [row.cause.value for row in TABLE]
    for found, row in zip(answer["causes"], matrix(demo_site), strict=True):
        assert found["trip_point"] == row.trip_point
        assert found["delay_s"] == row.delay_s
        assert found["effects"] == {effect: mark.value for effect, mark in row.effects.items()}
    assert set(answer["legend"]) == {mark.value for mark in Mark}


def test_csv_is_read_back_by_the_standard_reader_with_the_same_marks(demo_site: Site) -> None:
    lines = list(csv.reader(io.StringIO(told("csv"))))
    between = lines.index([])
    head, rows, board = lines[0], lines[1:between], lines[between + 1 :]
    assert len(rows) == len(TABLE)
    assert {len(line) for line in (head, *rows)} == {len(head)}
    for line, row in zip(rows, matrix(demo_site), strict=True):
        cells = dict(zip(head, line, strict=True))
        assert cells["trip point"] == row.trip_point
        assert [cells[effect] for effect in EFFECTS] == [row.effects[effect].value for effect in EFFECTS]
    assert len(board) == 1 + len(board_trips(demo_site))


def test_the_drawing_has_a_row_a_cause_and_a_dot_a_mark(demo_site: Site) -> None:
    drawing = ElementTree.fromstring(told("svg"))
    words = [text.text for text in drawing.iter(f"{SVG}text")]
    dots = [dot for dot in drawing.iter(f"{SVG}circle") if dot.find(f"{SVG}title") is not None]
    for row in matrix(demo_site):
        assert row.cause in words
        titles = {str(dot.findtext(f"{SVG}title")): dot.get("class") for dot in dots}
        for effect, mark in row.effects.items():
            assert titles.get(f"{row.cause}: {effect}", "") == mark.value
    marks = [mark for row in matrix(demo_site) for mark in row.effects.values() if mark is not Mark.NONE]
    assert len(dots) == len(marks)


def test_the_page_holds_the_drawing_and_every_word_and_fetches_nothing(demo_site: Site) -> None:
    page = told("html")
    assert page.startswith("<!doctype html>")
    assert "<svg" in page
    assert "://" not in page.replace("http://www.w3.org/2000/svg", "")
    for row in matrix(demo_site):
        assert f"{row.cause} ({row.tag})" in page
        assert row.trip_point.replace("'", "&#x27;") in page
    for trip in board_trips(demo_site):
        assert trip.trip_point.replace("'", "&#x27;") in page


def test_text_is_what_is_told_when_no_form_is_named(demo_site: Site) -> None:
    text = told("text")
    assert text == asked("--matrix").stdout
    for row in matrix(demo_site):
        assert f"{row.tag}: {row.cause}\n" in text
        assert f"trips: {row.trip_point} (" in text


def test_the_board_alone_tells_every_trip_with_the_limits_it_must_hold(demo_site: Site) -> None:
    codes = {value for name, value in vars(registers).items() if name.startswith("TRIP_")}
    trips = {trip.code: trip for trip in board_trips(demo_site)}
    assert set(trips) == codes
    limits = limits_of(demo_site)
    assert f"{limits.lease_ms / 1000:g} s" in trips[registers.TRIP_LEASE].trip_point
    assert f"{limits.valve_cap_ms / 1000:g} s" in trips[registers.TRIP_VALVE_TIME].trip_point
    for pump in demo_site.rig.pumps.values():
        cap = f"{limits.night_caps[pump.channel]} counts of {pump.name} ("
        assert cap in trips[registers.TRIP_NIGHT_CAP].trip_point
    assert not trips[registers.TRIP_LEASE].latched
    assert all(trip.latched for code, trip in trips.items() if code != registers.TRIP_LEASE)


@pytest.mark.parametrize("words", [("--matrix", "pdf"), ("--matrix", "csv", "--hardware")])
def test_what_cannot_be_asked_is_a_fault_of_use(words: tuple[str, ...]) -> None:
    assert asked(*words).exit_code == 2
