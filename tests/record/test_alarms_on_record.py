"""What a report and a terminal tell of alarms: those that were announced, and apart those that were not."""

from __future__ import annotations

from pathlib import Path

import pytest
from believable_batch import wall_at

from controller.cli.record_screen import show_batch
from controller.record.alarm_story import alarm_stories
from controller.record.batch_record import BatchRecord, read_batch
from controller.record.events import AlarmChange, AlarmState, BatchEnded, BatchStarted
from controller.record.journal import Journal
from controller.record.report import report_html
from controller.record.writer import InlineWriter

BEHIND = "Not announced: it follows from emergency stop. The board does not answer."


def change(alarm: str, state: str, text: str = "It means this.") -> AlarmChange:
    return AlarmChange(1, alarm, "high", state, text, "Do this one thing.", state == AlarmState.RAISED)


@pytest.fixture
def record(tmp_path: Path) -> BatchRecord:
    path = tmp_path / "record.sqlite"
    ledger = InlineWriter(Journal(path), wall_at)
    ledger.put(0.0, BatchStarted(1, "fruiting", "Fruiting", 180.0, 0.0, 5.8, 6.3, 3600.0, "{}"))
    ledger.put(10.0, change("emergency stop", AlarmState.RAISED))
    ledger.put(11.0, change("board silent", AlarmState.SUPPRESSED, BEHIND))
    ledger.put(12.0, change("selector off", AlarmState.RAISED))
    ledger.put(13.0, change("selector off", AlarmState.SHELVED, "Shelved by Mira for 10 min."))
    ledger.put(613.0, change("selector off", AlarmState.UNSHELVED, "The shelf has ended by itself."))
    ledger.put(620.0, change("selector off", AlarmState.RETURNED))
    ledger.put(630.0, BatchEnded(1, "aborted", "emergency stop", False))
    ledger.close()
    assert ledger.fault is None
    return read_batch(path, 1)


def test_an_alarm_that_was_not_announced_is_a_story_of_its_own(record: BatchRecord) -> None:
    stories = alarm_stories(record.alarms)
    assert [(story.changes[0].event.alarm, story.announced) for story in stories] == [
        ("emergency stop", True),
        ("board silent", False),
        ("selector off", True),
    ]
    states = [change.event.state for change in stories[2].changes]
    assert states == ["raised", "shelved", "shelf ended", "returned"]


def test_the_report_tells_shelves_and_silences_with_their_reason(record: BatchRecord) -> None:
    page = report_html(record)
    told, silent = page.split("Not announced: 1", 1)
    assert "⚠ emergency stop" in told
    assert "⚠ board silent" not in page
    assert BEHIND in silent
    assert "shelved " in told
    assert "shelf ended " in told
    assert "returned " in told


def test_the_terminal_tells_a_silence_without_calling_it_an_alarm(
    record: BatchRecord, capsys: pytest.CaptureFixture[str]
) -> None:
    show_batch(record)
    lines = capsys.readouterr().out.splitlines()
    (silent,) = [line for line in lines if "board silent" in line]
    assert not silent.startswith("Alarm")
    assert silent.endswith(BEHIND)
    assert sum(line.startswith("Alarm ") for line in lines) == 2
