"""`tankhand record` as a person types it: clear answers, one-line faults, exit codes a script can rely on."""

from __future__ import annotations

import csv
import io
import json
import sqlite3
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from click.testing import CliRunner

from controller.cli.frame import main
from controller.record.events import (
    AlarmChange,
    BatchEnded,
    BatchStarted,
    DoseIntent,
    DoseResult,
    OperatorAct,
    Reading,
    StepEnded,
    StepStarted,
)
from controller.record.journal import Journal
from controller.record.writer import InlineWriter

PLAN = json.dumps(
    {"additions": [{"input": "humic", "title": "Humic [red]extract", "ml": 90.0, "rate": "0.5 mL/L"}]}
)


def night(batch):
    """Give the shortest batch that has something of everything to show."""
    return [
        BatchStarted(batch, "young", "Young-plant feed", 180.0, 0.0, 5.8, 6.3, 3600.0, PLAN),
        OperatorAct(batch, "Mira", "start", "taken"),
        StepStarted(batch, 1, "dose", "Dose humic extract", 30.0),
        DoseIntent(batch, 1, batch, "addition", "humic", "pump 1", 90.0, 1800, 0.05, 180.0, 7),
        DoseResult(batch, 1, batch, "done", 1798, 89.9, 1.8, ""),
        StepEnded(batch, 1, "done", "89.9 mL"),
        AlarmChange(batch, "stock low", "low", "raised", "The bottle is nearly empty.", "Change it.", True),
        Reading(batch, 1, 180.0, 6.05, 18.4, 612.0, True),
        BatchEnded(batch, "complete", "all steps done", True),
    ]


@pytest.fixture
def state(tmp_path):
    """A folder with two recorded nights."""
    begin = datetime(2026, 3, 14, 2, 30, tzinfo=UTC)
    ledger = InlineWriter(Journal(tmp_path / "record.sqlite"), lambda at_s: begin + timedelta(seconds=at_s))
    for batch in (1, 2):
        for place, event in enumerate(night(batch)):
            ledger.put(batch * 86_400 + place * 60.0, event)
    ledger.close()
    assert ledger.fault is None
    return tmp_path


def run(*words, state=None):
    """Type the words; where a state folder is given, name it."""
    chosen = [] if state is None else ["--state", str(state)]
    return CliRunner().invoke(main, ["record", *map(str, words), *chosen])


def break_a_row(state):
    with sqlite3.connect(state / "record.sqlite") as careless:
        careless.execute("UPDATE dose_result SET ml = 9.0 WHERE batch = 2")
    careless.close()


def test_list_names_every_batch(state):
    told = run("list", state=state)
    assert told.exit_code == 0
    assert told.stderr == ""
    assert told.stdout.count("Young-plant feed") == 2
    assert "180.0 L" in told.stdout
    assert "2026-03-15 02:30:00" in told.stdout


def test_list_as_json_is_json_and_nothing_else(state):
    told = run("list", "--json", state=state)
    batches = json.loads(told.stdout)["batches"]
    assert [batch["batch"] for batch in batches] == [1, 2]
    assert batches[1] == {
        "batch": 2,
        "recipe": "young",
        "beside_tank": False,
        "title": "Young-plant feed",
        "final_l": 180.0,
        "started": "2026-03-16T02:30:00+00:00",
        "ended": "2026-03-16T02:38:00+00:00",
        "result": "complete",
        "reason": "all steps done",
        "released": True,
        "permit": "yes",
    }


@pytest.mark.parametrize(
    ("result", "released", "word"),
    [
        ("complete", True, "yes"),
        ("stopped", True, "withdrawn"),
        ("aborted", True, "withdrawn"),
        ("stopped", False, "no"),
        (None, False, "no"),
    ],
)
def test_list_says_in_one_word_what_became_of_the_permit(tmp_path, result, released, word):
    *before, end = night(1)
    ended = [] if result is None else [replace(end, result=result, released=released)]
    ledger = InlineWriter(Journal(tmp_path / "record.sqlite"), lambda at_s: datetime(2026, 3, 14, tzinfo=UTC))
    for place, event in enumerate([*before, *ended]):
        ledger.put(float(place), event)
    ledger.close()
    assert run("list", state=tmp_path).stdout.splitlines()[-2].split()[-1] == word
    [told] = json.loads(run("list", "--json", state=tmp_path).stdout)["batches"]
    assert (told["permit"], told["released"]) == (word, word == "yes")
    assert json.loads(run("show", "1", "--json", state=tmp_path).stdout)["released"] == told["released"]


@pytest.mark.parametrize("which", ["2", "last"])
def test_show_puts_the_verdict_first_and_gives_every_amount_its_unit(state, which):
    told = run("show", which, state=state)
    assert told.exit_code == 0
    assert "Batch 2: Young-plant feed" in told.stdout
    words = told.stdout
    assert words.index("RELEASED AS FIT TO FEED") < words.index("90.0 mL") < words.index("Dose humic extract")
    assert "89.9 mL" in words
    assert "1.80 mL" in words
    assert "−0.10 mL" in words
    assert "−0.1 %" in words
    assert "Humic [red]extract" in words
    assert "The bottle is nearly empty. Change it." in words
    assert "Mira: start (taken)" in words


def test_nothing_that_was_recorded_can_steer_the_terminal(tmp_path):
    begin = datetime(2026, 3, 14, 2, 30, tzinfo=UTC)
    steering = "\x1b[2J\n\u202eReleased"
    ledger = InlineWriter(Journal(tmp_path / "record.sqlite"), lambda at_s: begin + timedelta(seconds=at_s))
    for place, event in enumerate(night(1)):
        if isinstance(event, StepEnded):
            event = replace(event, note=steering)
        if isinstance(event, OperatorAct):
            event = replace(event, answer=steering)
        ledger.put(float(place), event)
    ledger.close()
    told = run("show", "1", state=tmp_path).stdout
    assert told.count(r"\x1b[2J\n\u202eReleased") == 2
    assert not {"\x1b", "\u202e"} & set(told)


def test_show_as_json_is_the_same_as_the_export(state):
    shown, exported = run("show", "1", "--json", state=state), run("export", "1", "--json", state=state)
    assert shown.exit_code == exported.exit_code == 0
    assert json.loads(shown.stdout) == json.loads(exported.stdout)
    assert json.loads(shown.stdout)["additions"][0]["recorded_ml"] == 89.9


def test_export_writes_csv_to_stdout_or_to_a_file(state, tmp_path):
    told = run("export", "last", "--csv", state=state)
    assert told.exit_code == 0
    written = run("export", "last", "--csv", "--output", tmp_path / "night.csv", state=state)
    assert written.exit_code == 0
    assert written.stdout == ""
    assert written.stderr == f"Written: {tmp_path / 'night.csv'}\n"
    assert (tmp_path / "night.csv").read_bytes() == told.stdout_bytes
    rows = list(csv.DictReader(io.StringIO((tmp_path / "night.csv").read_text(), newline="")))
    assert [row["ml"] for row in rows if row["kind"] == "dose_result"] == ["89.9"]


@pytest.mark.parametrize("flags", [[], ["--csv", "--json"]])
def test_export_wants_exactly_one_format(state, flags):
    told = run("export", "last", *flags, state=state)
    assert told.exit_code == 2
    assert "Choose one of --csv and --json." in told.stderr
    assert told.stdout == ""


def test_report_writes_a_page_named_after_the_batch(state, monkeypatch):
    monkeypatch.chdir(state)
    told = run("report", "last", state=state)
    assert told.exit_code == 0
    assert told.stdout == ""
    assert told.stderr == "Written: batch-2.html\n"
    page = (state / "batch-2.html").read_text()
    assert page.startswith("<!doctype html>")
    assert "Humic [red]extract" in page


def test_report_goes_where_it_is_told(state, tmp_path):
    assert run("report", "1", "--output", tmp_path / "page.html", state=state).exit_code == 0
    told = run("report", "1", "--output", "-", state=state)
    assert told.stdout_bytes == (tmp_path / "page.html").read_bytes()


SPELLED = "check how it is spelled, and make the folder it is to lie in"


def test_a_page_that_finds_the_disk_full_names_its_file(state):
    # full(4): writing to this device fails with ENOSPC.
    told = run("report", "1", "--output", "/dev/full", state=state)
    assert told.exit_code == 1
    assert told.stderr.startswith("/dev/full: No space left on device; free some space")


def test_a_page_that_cannot_be_written_is_one_line(state):
    told = run("report", "1", "--output", state / "nowhere" / "page.html", state=state)
    assert told.exit_code == 2
    assert told.stderr == f"{state / 'nowhere' / 'page.html'}: No such file or directory; {SPELLED}\n"


def test_verify_says_that_the_chain_holds(state):
    told = run("verify", state=state)
    assert told.exit_code == 0
    assert "18 rows, the chain holds." in told.stdout
    as_json = json.loads(run("verify", "--json", state=state).stdout)
    assert as_json["whole"] is True
    assert as_json["rows"] == as_json["head_seq"] == 18
    assert as_json["head"] in told.stdout


def test_verify_finds_a_broken_chain_and_fails(state):
    break_a_row(state)
    told = run("verify", state=state)
    assert told.exit_code == 1
    assert "row 14 (dose_result) is not as it was written" in told.stdout
    assert told.stderr.startswith(f"{state / 'record.sqlite'}: the chain is broken")
    assert told.stderr.count("\n") == 1
    as_json = run("verify", "--json", state=state)
    assert as_json.exit_code == 1
    assert json.loads(as_json.stdout)["faults"][0]["seq"] == 14


@pytest.mark.parametrize(
    "words",
    [("show", "2"), ("show", "2", "--json"), ("export", "2", "--csv"), ("report", "2", "--output", "-")],
)
def test_whatever_is_told_of_a_damaged_batch_fails_aloud(state, words):
    break_a_row(state)
    told = run(*words, state=state)
    assert told.exit_code == 1
    assert told.stdout
    assert "the chain is broken" in told.stderr
    sound = run(words[0], "1", *words[2:], state=state)
    assert sound.exit_code == 0


def test_a_torn_end_is_found_by_verify(state):
    with sqlite3.connect(state / "record.sqlite") as careless:
        careless.execute("DELETE FROM batch_ended WHERE batch = 2")
    careless.close()
    told = run("verify", state=state)
    assert told.exit_code == 1
    assert "the last rows are lost or altered" in told.stdout


COMMANDS = [("list",), ("show", "last"), ("export", "last", "--csv"), ("report", "last"), ("verify",)]


@pytest.mark.parametrize("words", COMMANDS)
def test_a_missing_record_is_one_line_that_names_the_file_and_the_remedy(tmp_path, words):
    told = run(*words, state=tmp_path / "nowhere")
    assert told.exit_code == 2
    assert told.stdout == ""
    wanted = "there is no record here; run a batch first, or name its folder with --state"
    assert told.stderr == f"{tmp_path / 'nowhere' / 'record.sqlite'}: {wanted}\n"
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("words", COMMANDS)
@pytest.mark.parametrize("content", [b"", b"a letter" * 999, b"SQLite format 3\x00" + bytes(5000)])
def test_a_file_that_is_no_record_is_one_line_and_keeps_its_bytes(tmp_path, words, content):
    (tmp_path / "record.sqlite").write_bytes(content)
    told = run(*words, state=tmp_path)
    assert told.exit_code == 2
    assert told.stdout == ""
    assert told.stderr.startswith(f"{tmp_path / 'record.sqlite'}: ")
    assert told.stderr.count("\n") == 1
    assert (tmp_path / "record.sqlite").read_bytes() == content


def test_an_unknown_batch_is_one_line(state):
    told = run("show", "77", state=state)
    assert told.exit_code == 2
    assert "there is no batch 77; it holds batches 1 to 2" in told.stderr


@pytest.mark.parametrize("batch", ["first", "1.5", "", "9" * 30, "²"])
def test_what_is_no_batch_number_is_a_usage_error(state, batch):
    told = run("show", batch, state=state)
    assert told.exit_code == 2
    assert 'neither a batch number nor "last"' in told.stderr


def test_the_default_folder_is_where_simulate_keeps_its_record(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path))
    told = run("list")
    assert told.exit_code == 2
    assert str(tmp_path / "tankhand" / "simulated" / "record.sqlite") in told.stderr
