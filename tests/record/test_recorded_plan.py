"""Whoever reads the record is told what the plan warned of; a damaged plan stops nobody."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
from believable_batch import Night, wall_at

from controller.record.amounts import additions
from controller.record.batch_record import read_batch
from controller.record.events import BatchStarted
from controller.record.export import batch_as_json
from controller.record.journal import Journal
from controller.record.recorded_plan import known_before
from controller.record.report import report_html
from controller.record.writer import InlineWriter

WARNINGS = [
    {"rule": "label range", "text": "Kelp at 9 mL/L is above the label's 4 mL/L."},
    {"rule": "rinse", "text": "A <b>thick</b> one."},
]


def recorded(path, plan_json):
    ledger = InlineWriter(Journal(path), wall_at)
    for at_s, event in Night(1, 10.0).events():
        if isinstance(event, BatchStarted):
            event = replace(event, plan_json=plan_json)
        ledger.put(at_s, event)
    ledger.close()
    assert ledger.fault is None
    return read_batch(path)


def test_the_report_says_what_was_known_before_the_night(tmp_path):
    html = report_html(recorded(tmp_path / "record.sqlite", json.dumps({"warnings": WARNINGS})))
    section = html.partition("<h2>Known before the night</h2>")[2].partition("</section>")[0]
    assert "label range: </strong>Kelp at 9 mL/L is above the label&#x27;s 4 mL/L." in section
    assert "A &lt;b&gt;thick&lt;/b&gt; one." in section
    assert html.index("Released as fit to feed") < html.index("Known before") < html.index("What is in")


def test_the_export_gives_the_warnings_as_the_plan_had_them(tmp_path):
    told = batch_as_json(recorded(tmp_path / "record.sqlite", json.dumps({"warnings": WARNINGS})))
    assert told["warnings"] == WARNINGS


@pytest.mark.parametrize(
    "plan_json",
    [
        "",
        "{}",
        "[]",
        "3",
        "[" * 9999,
        '{"warnings": 3, "additions": {}}',
        '{"warnings": [7, null, {"text": 3}]}',
    ],
)
def test_a_plan_without_warnings_or_damaged_has_none_and_the_report_no_such_section(tmp_path, plan_json):
    record = recorded(tmp_path / "record.sqlite", plan_json)
    assert known_before(record) == ()
    assert [amount.title for amount in additions(record)] != []
    assert "Known before" not in report_html(record)
