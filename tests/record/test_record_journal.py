"""The journal writes all or nothing, durably, and refuses what it cannot keep safe, in one clear line."""

from __future__ import annotations

import math
import os
import signal
import sqlite3
import subprocess
import sys
import tempfile
from datetime import datetime, timedelta, timezone
from pathlib import Path
from typing import get_args

import pytest
from believable_batch import put_nights, wall_at
from hypothesis import given, settings
from hypothesis import strategies as st

from controller.record.events import AnyEvent, BatchStarted, Decision, Reading, StepEnded, StepResult
from controller.record.fault import RecordFault
from controller.record.journal import Journal
from controller.record.tables import APPLICATION_ID, TABLES, entry
from controller.record.view import JournalView

NOTE = Decision(batch=1, number=2, believed="pH 7.1", did="9 mL", came="")
LOOK = Reading(1, 2, 135.0, None, 18.4, 612.0, False)


def entries(*events, at_s=1.0):
    return [entry(at_s, wall_at(at_s), event) for event in events]


TEXT = st.text(st.characters(codec="utf-8"), max_size=20)
FIELD = {
    "str": TEXT,
    "int": st.integers(-(2**63), 2**63 - 1),
    "float": st.floats(allow_nan=False, allow_infinity=False),
    "bool": st.booleans(),
    "float | None": st.none() | st.floats(allow_nan=False, allow_infinity=False),
}
ANY_EVENT = st.one_of(
    *(
        st.builds(kind, *(FIELD[kind.__dataclass_fields__[name].type] for name in kind.__dataclass_fields__))
        for kind in get_args(AnyEvent)
    )
)
WALL = st.datetimes(
    min_value=datetime(1970, 1, 2),
    max_value=datetime(8999, 12, 1),
    timezones=st.integers(-720, 840).map(lambda minutes: timezone(timedelta(minutes=minutes))),
).map(lambda moment: moment.replace(microsecond=moment.microsecond // 1000 * 1000))


@settings(max_examples=30, deadline=None)
@given(st.lists(st.tuples(st.floats(0, 1e9), WALL, ANY_EVENT), max_size=12))
def test_every_event_comes_back_as_it_was_put_and_the_chain_holds(puts):
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "record.sqlite"
        with Journal(path) as journal:
            last = journal.append([entry(at_s, wall, event) for at_s, wall, event in puts])
        assert last == len(puts)
        with Journal(path) as journal:
            rows = sorted(
                (row for table in TABLES for row in journal.rows(table.event)), key=lambda row: row.seq
            )
            assert [(row.seq, row.at_s, row.wall, row.event) for row in rows] == [
                (place + 1, *put) for place, put in enumerate(puts)
            ]
            assert all(
                row.wall.utcoffset() == put[1].utcoffset() for row, put in zip(rows, puts, strict=True)
            )
            assert journal.verify() == ()


def test_a_named_word_is_stored_as_the_plain_text_that_it_is():
    named, written = (StepEnded(1, 1, word, "") for word in (StepResult.DONE, "done"))
    cells = entries(named)[0].cells
    assert cells == entries(written)[0].cells
    assert [type(cell) for cell in cells] == [int, int, str, str]


def test_one_commit_is_flushed_before_it_returns_and_leaves_no_chance_bytes(tmp_path):
    # SQLite documentation, PRAGMA synchronous: 2 = FULL; in WAL mode FULL syncs the WAL after each commit.
    with Journal(tmp_path / "record.sqlite") as journal:
        assert journal._connection.execute("PRAGMA synchronous").fetchone() == (2,)
        assert journal._connection.execute("PRAGMA journal_mode").fetchone() == ("wal",)
        # 1 = freed parts of a page are overwritten with noughts, and so are the same in every run.
        assert journal._connection.execute("PRAGMA secure_delete").fetchone() == (1,)


def test_what_was_acknowledged_survives_the_death_of_the_process(tmp_path):
    script = f"""
import os, signal, sys
from datetime import datetime, timezone
from pathlib import Path
from controller.record.events import StepEnded
from controller.record.journal import Journal
from controller.record.tables import entry
journal = Journal(Path({str(tmp_path / "record.sqlite")!r}))
for number in range(7):
    ended = entry(1.0, datetime(2026, 1, 1, tzinfo=timezone.utc), StepEnded(1, number, "done", ""))
    last = journal.append([ended])
    os.write(1, f"{{last}}\\n".encode())
os.kill(os.getpid(), signal.SIGKILL)
"""
    died = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=False)
    assert died.returncode == -signal.SIGKILL, died.stderr
    assert died.stdout.split() == ["1", "2", "3", "4", "5", "6", "7"]
    with Journal(tmp_path / "record.sqlite") as journal:
        assert [row.event.number for row in journal.rows(StepEnded)] == list(range(7))
        assert journal.verify() == ()
        assert journal.append(entries(NOTE)) == 8


def test_seq_counts_over_all_tables_and_across_openings(tmp_path):
    with Journal(tmp_path / "record.sqlite") as journal:
        assert journal.append(entries(NOTE, LOOK)) == 2
        assert journal.append([]) == 2
    with Journal(tmp_path / "record.sqlite") as journal:
        assert journal.append(entries(NOTE)) == 3
        assert [row.seq for row in journal.rows(Decision)] == [1, 3]


def test_a_second_writer_is_refused_until_the_first_closes(tmp_path):
    path = tmp_path / "record.sqlite"
    first = Journal(path)
    with pytest.raises(
        RecordFault, match="another Tankhand is already writing it; stop the other one"
    ) as refused:
        Journal(path)
    assert str(refused.value).startswith(str(path))
    assert first.append(entries(NOTE)) == 1
    first.close()
    first.close()
    Journal(path).close()


def test_a_closed_journal_says_so(tmp_path):
    journal = Journal(tmp_path / "record.sqlite")
    journal.close()
    with pytest.raises(RecordFault, match="closed"):
        journal.append(entries(NOTE))


def test_another_program_that_holds_the_file_is_one_clear_fault_and_costs_no_event(tmp_path):
    path = tmp_path / "record.sqlite"
    with Journal(path, busy_s=0.0) as journal:
        other = sqlite3.connect(path, isolation_level=None)
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(RecordFault, match="locked"):
            journal.append(entries(NOTE))
        other.execute("ROLLBACK")
        other.close()
        assert journal.append(entries(NOTE)) == 1


def test_a_full_disk_leaves_nothing_half_written_and_the_same_events_can_be_tried_again(tmp_path):
    path = tmp_path / "record.sqlite"
    long_note = Decision(1, 1, "x" * 9000, "", "")
    with Journal(path) as journal:
        journal.append(entries(NOTE))
        pages = journal._connection.execute("PRAGMA page_count").fetchone()[0]
        journal._connection.execute(f"PRAGMA max_page_count={pages + 1}")
        with pytest.raises(RecordFault, match="the disk is full; free some space"):
            journal.append(entries(NOTE, LOOK, long_note, NOTE))
        with JournalView(path) as view:
            assert [row.event for row in view.rows(Decision)] == [NOTE]
            assert view.rows(Reading) == ()
            assert view.check().faults == ()
        assert journal.head.seq == 1
        journal._connection.execute("PRAGMA max_page_count=100000")
        assert journal.append(entries(NOTE, LOOK, long_note, NOTE)) == 5
        assert journal.verify() == ()


def test_a_write_that_fails_half_way_is_undone_whole(tmp_path):
    path = tmp_path / "record.sqlite"
    with Journal(path) as journal:
        journal.append(entries(NOTE))
        meddler = sqlite3.connect(path, isolation_level=None)
        meddler.execute("INSERT INTO decision VALUES (3, 1.0, '', 1, 1, '', '', '', '')")
        with pytest.raises(RecordFault, match="UNIQUE"):
            journal.append(entries(LOOK, NOTE))
        assert meddler.execute("SELECT count(*) FROM reading").fetchone() == (0,)
        assert meddler.execute("SELECT head_seq FROM meta").fetchone() == (1,)
        meddler.execute("DELETE FROM decision WHERE seq = 3")
        meddler.close()
        assert journal.append(entries(LOOK, NOTE)) == 3
        assert journal.verify() == ()


def test_a_record_of_a_newer_version_is_not_touched(tmp_path):
    path = tmp_path / "record.sqlite"
    Journal(path).close()
    with sqlite3.connect(path) as newer:
        newer.execute("PRAGMA user_version=99")
    newer.close()
    before = path.read_bytes()
    for opening in (Journal, JournalView):
        with pytest.raises(RecordFault, match=r"newer Tankhand \(schema 99.*update Tankhand"):
            opening(path)
    assert path.read_bytes() == before


def test_a_record_with_other_tables_is_not_guessed_at(tmp_path):
    path = tmp_path / "record.sqlite"
    Journal(path).close()
    with sqlite3.connect(path) as altered:
        altered.execute("ALTER TABLE reading ADD COLUMN colour TEXT")
    altered.close()
    for opening in (Journal, JournalView):
        with pytest.raises(RecordFault, match="its tables are not those of schema 2"):
            opening(path)


def test_someone_elses_database_keeps_every_byte(tmp_path):
    path = tmp_path / "record.sqlite"
    with sqlite3.connect(path) as other:
        other.execute("CREATE TABLE bees (hive INTEGER)")
    other.close()
    before = path.read_bytes()
    for opening in (Journal, JournalView):
        with pytest.raises(RecordFault, match="no Tankhand record"):
            opening(path)
    assert path.read_bytes() == before


@pytest.mark.parametrize(
    "content", [b"this is a letter, not a record\n" * 40, bytes(range(256)) * 20, b"SQLite format 3\0"]
)
def test_a_file_that_is_no_database_keeps_every_byte(tmp_path, content):
    path = tmp_path / "record.sqlite"
    path.write_bytes(content)
    for opening in (Journal, JournalView):
        with pytest.raises(RecordFault, match=r"record\.sqlite: it is") as refused:
            opening(path)
        assert "\n" not in str(refused.value)
    assert path.read_bytes() == content


def test_an_empty_file_becomes_a_record_but_is_none_to_a_reader(tmp_path):
    path = tmp_path / "record.sqlite"
    path.touch()
    with pytest.raises(RecordFault, match="it is empty"):
        JournalView(path)
    with Journal(path) as journal:
        assert journal.append(entries(NOTE)) == 1


def test_a_missing_folder_is_one_clear_line(tmp_path):
    with pytest.raises(RecordFault, match="its folder does not exist; make the folder"):
        Journal(tmp_path / "nowhere" / "record.sqlite")
    with pytest.raises(RecordFault, match="there is no record here"):
        JournalView(tmp_path / "record.sqlite")
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_cannot_be_written_is_one_clear_line():
    # /sys takes no new files, not even from the superuser, who ignores permission bits.
    with pytest.raises(RecordFault, match="its folder cannot be written"):
        Journal(Path("/sys/record.sqlite"))


def test_a_folder_in_place_of_the_file_is_one_clear_line(tmp_path):
    (tmp_path / "record.sqlite").mkdir()
    with pytest.raises(RecordFault, match="cannot be written"):
        Journal(tmp_path / "record.sqlite")
    with pytest.raises(RecordFault, match="there is no record here"):
        JournalView(tmp_path / "record.sqlite")


def test_a_record_that_lost_its_end_is_not_written_on(tmp_path):
    path = tmp_path / "record.sqlite"
    with Journal(path) as journal:
        journal.append(entries(NOTE, LOOK))
    with sqlite3.connect(path) as careless:
        careless.execute("DELETE FROM reading")
    careless.close()
    with pytest.raises(RecordFault, match="its last rows are lost or altered"):
        Journal(path)


@pytest.mark.parametrize("level_l", [math.nan, math.inf, -math.inf, "180", True, 10**400])
def test_a_field_that_cannot_be_stored_faithfully_is_refused(level_l):
    with pytest.raises(ValueError, match="Reading: level_l"):
        entry(1.0, wall_at(1.0), Reading(1, 2, level_l, None, None, None, False))


@pytest.mark.parametrize("number", [2**63, -(2**63) - 1, True, 1.0, None])
def test_a_number_that_would_change_on_the_way_is_refused(number):
    with pytest.raises(ValueError, match="StepEnded: number"):
        entry(1.0, wall_at(1.0), StepEnded(1, number, "done", ""))


def test_half_a_character_and_a_clock_without_offset_are_refused():
    with pytest.raises(ValueError, match="surrogates"):
        entry(1.0, wall_at(1.0), Decision(1, 1, "\ud800", "", ""))
    with pytest.raises(ValueError, match="with a UTC offset"):
        entry(1.0, datetime(2026, 1, 1), NOTE)
    with pytest.raises(ValueError, match="at_s"):
        entry(math.nan, wall_at(1.0), NOTE)


def test_a_record_is_read_while_it_is_written_and_shows_one_moment(tmp_path):
    path = tmp_path / "record.sqlite"
    with Journal(path) as journal:
        journal.append(entries(NOTE))
        with JournalView(path) as view:
            assert len(view.rows(Decision)) == 1
            assert journal.append(entries(NOTE, LOOK)) == 3
            assert len(view.rows(Decision)) == 1
            assert view.rows(Reading) == ()
            assert view.check().faults == ()
        with JournalView(path) as view:
            assert view.check().rows == 3


def test_a_view_cannot_write_and_leaves_nothing_behind(tmp_path):
    path = tmp_path / "record.sqlite"
    with Journal(path) as journal:
        journal.append(entries(NOTE))
    before, names = path.read_bytes(), sorted(tmp_path.iterdir())
    with JournalView(path) as view, pytest.raises(sqlite3.OperationalError, match="readonly"):
        view._connection.execute("DELETE FROM decision")
    assert path.read_bytes() == before
    assert sorted(tmp_path.iterdir()) == names


def test_any_sqlite_tool_can_tell_whose_file_it_is_and_read_it(tmp_path):
    path = tmp_path / "record.sqlite"
    put_nights(path)
    # SQLite documentation, "Database File Format" 1.3: application id, big-endian, at offset 68.
    assert path.read_bytes()[68:72] == APPLICATION_ID.to_bytes(4, "big") == b"TANK"
    plain = sqlite3.connect(path)
    row = plain.execute("SELECT recipe, final_l, wall FROM batch_started").fetchone()
    plain.close()
    assert row == ("fruiting", 180.0, "2026-03-14T02:30:10.000+01:00")


def test_no_row_is_written_over_another(tmp_path):
    path = tmp_path / "record.sqlite"
    put_nights(path)
    with JournalView(path) as view:
        rows = sum(len(view.rows(table.event)) for table in TABLES)
        assert rows == view.check().rows == view.check().head.seq
        assert len(view.rows(BatchStarted)) == 1


def test_files_with_odd_names_work(tmp_path):
    folder = tmp_path / "night #1 %3f ?mode=ro Ü"
    folder.mkdir()
    with Journal(folder / "record.sqlite") as journal:
        journal.append(entries(NOTE))
    with JournalView(folder / "record.sqlite") as view:
        assert len(view.rows(Decision)) == 1
    assert os.listdir(tmp_path) == [folder.name]
