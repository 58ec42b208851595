"""Exports hold everything: JSON as it is, CSV so that a spreadsheet opens it and runs nothing."""

from __future__ import annotations

import csv
import io
import json

import pytest
from believable_batch import ADDITIONS, Night, put_nights, wall_at

from controller.record.batch_record import read_batch
from controller.record.events import OperatorAct
from controller.record.export import batch_as_json, export_csv
from controller.record.journal import Journal
from controller.record.tables import TABLE_OF
from controller.record.writer import InlineWriter


@pytest.fixture
def record(tmp_path):
    put_nights(tmp_path / "record.sqlite", 2)
    return read_batch(tmp_path / "record.sqlite", 1)


def test_json_has_every_event_with_every_field(record):
    told = json.loads(json.dumps(batch_as_json(record)))
    assert len(told["events"]) == len(record.events)
    for line, timed in zip(told["events"], record.events, strict=True):
        assert line.pop("kind") == TABLE_OF[type(timed.event)].name
        assert line.pop("t_s") == pytest.approx(timed.t_s, abs=1e-6)
        assert line.pop("seq") == timed.row.seq
        assert line.pop("wall") == timed.row.wall.isoformat()
        if "step_kind" in line:
            line["kind"] = line.pop("step_kind")
        assert type(timed.event)(**line) == timed.event


def test_json_says_the_verdict_the_amounts_and_the_chain(record):
    told = json.loads(json.dumps(batch_as_json(record)))
    assert told["released"] is True
    assert told["result"] == "complete"
    assert [(line["input"], line["target_ml"]) for line in told["additions"]] == [
        (a[0], a[3]) for a in ADDITIONS
    ]
    assert told["additions"][0]["recorded_ml"] == pytest.approx(355.9)
    assert told["chain"]["faults"] == []
    assert told["chain"]["rows"] == len(record.events)


def test_csv_has_a_row_an_event_and_reads_back_by_rfc_4180(record):
    text = export_csv(record)
    assert text.count("\r\n") == len(record.events) + 1
    rows = list(csv.DictReader(io.StringIO(text, newline="")))
    assert [row["kind"] for row in rows] == [TABLE_OF[type(timed.event)].name for timed in record.events]
    assert [row["step_kind"] for row in rows if row["kind"] == "step_started"][:2] == ["check", "fill"]
    results = [row for row in rows if row["kind"] == "dose_result"]
    assert [float(row["ml"]) for row in results] == [dose.result.event.ml for dose in record.doses]
    looks = [row for row in rows if row["kind"] == "reading"]
    assert looks[0]["ph"] == ""
    assert looks[-1]["accepted"] == "0"
    assert rows[0]["wall"] == "2026-03-14T02:30:10+01:00"
    assert None not in rows[0]


def test_no_text_in_csv_is_taken_for_a_formula(tmp_path):
    # OWASP, "CSV Injection": a spreadsheet takes cells that begin with = + - @ tab or return for formulas.
    acts = ["=1+1", "+1", "-1", "@sum", "\tx", "\rx", 'a,"b"\nc', "plain"]
    ledger = InlineWriter(Journal(tmp_path / "record.sqlite"), wall_at)
    for at_s, event in Night(1, 10.0).events():
        ledger.put(at_s, event)
    for act in acts:
        ledger.put(99_999.0, OperatorAct(1, "Mira", act, ""))
    ledger.close()
    record = read_batch(tmp_path / "record.sqlite")
    rows = list(csv.DictReader(io.StringIO(export_csv(record), newline="")))
    assert [row["act"] for row in rows[-8:]] == [*("'" + act for act in acts[:6]), *acts[6:]]
    assert [line["act"] for line in json.loads(json.dumps(batch_as_json(record)))["events"][-8:]] == acts
    negative = [row for row in rows if row["kind"] == "stock_movement"]
    assert float(negative[0]["ml"]) < 0
