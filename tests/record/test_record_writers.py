"""The two writers: nothing lost in silence, durable only after the commit, same events give same bytes.

Order between threads is arranged with events and barriers, never with waiting.
"""

from __future__ import annotations

import os
import subprocess
import sys
import threading
from datetime import UTC, datetime
from itertools import chain
from pathlib import Path
from typing import get_args

import pytest
from believable_batch import put_nights, wall_at

from controller.record.events import AnyEvent, Decision, DoseIntent, Reading, StepEnded, StepStarted
from controller.record.fault import RecordFault
from controller.record.journal import Journal
from controller.record.tables import TABLES
from controller.record.view import JournalView
from controller.record.writer import AT_ONCE, REFUSED, InlineWriter, ThreadWriter

SAMPLE = {"str": "word", "int": 7, "float": 2.5, "bool": True, "float | None": None}
PATIENCE_S = 20.0


def look(number):
    return Reading(1, number, 135.0, 6.1, 18.4, 612.0, False)


def intent(dose_id):
    return DoseIntent(1, 1, dose_id, "addition", "humic", "pump 1", 90.0, 1800, 0.05, 180.0, 4711)


class Disk:
    """Stands in for the journal: remembers every commit, and can be full."""

    def __init__(self):
        self.commits = []
        self.full = False
        self.closed = False

    def append(self, entries):
        if self.full:
            raise RecordFault(Path("record.sqlite"), "the disk is full", "free some space")
        self.commits.append([entry.at_s for entry in entries])
        return sum(map(len, self.commits))

    def close(self):
        self.closed = True


class SlowDisk(Disk):
    """A disk that says when a commit began and waits for leave to finish it."""

    def __init__(self):
        super().__init__()
        self.began = threading.Semaphore(0)
        self.leave = threading.Semaphore(0)

    def append(self, entries):
        self.began.release()
        assert self.leave.acquire(timeout=PATIENCE_S)
        return super().append(entries)

    def pass_one(self):
        assert self.began.acquire(timeout=PATIENCE_S)
        self.leave.release()


@pytest.mark.parametrize("kind", get_args(AnyEvent))
def test_what_must_be_on_disk_is_flushed_at_once_and_the_rest_waits_for_company(kind):
    disk = Disk()
    ledger = InlineWriter(disk, wall_at)
    fields = kind.__dataclass_fields__.values()
    ledger.put(1.0, look(1))
    ledger.put(2.0, kind(*(SAMPLE[field.type] for field in fields)))
    assert disk.commits == ([[1.0, 2.0]] if kind in AT_ONCE else [])


def test_a_full_group_of_readings_is_one_commit():
    disk = Disk()
    ledger = InlineWriter(disk, wall_at, group=3)
    for at_s in range(7):
        ledger.put(float(at_s), look(at_s))
    assert disk.commits == [[0.0, 1.0, 2.0], [3.0, 4.0, 5.0]]
    ledger.close()
    assert disk.commits[2:] == [[6.0]]
    assert disk.closed


def test_asking_whether_a_waiting_event_is_durable_makes_it_so_in_the_inline_writer():
    ledger = InlineWriter(Disk(), wall_at)
    ticket = ledger.put(1.0, look(1))
    assert ledger.durable(ticket)
    assert not ledger.durable(ticket + 1)
    assert not ledger.durable(REFUSED)


def test_a_full_disk_is_a_fault_until_space_is_freed_and_costs_no_event():
    disk = Disk()
    ledger = InlineWriter(disk, wall_at)
    disk.full = True
    tickets = [ledger.put(float(dose), intent(dose)) for dose in range(1, 4)]
    assert "the disk is full" in ledger.fault
    assert not any(ledger.durable(ticket) for ticket in tickets)
    disk.full = False
    last = ledger.put(9.0, intent(9))
    assert ledger.fault is None
    assert all(ledger.durable(ticket) for ticket in (*tickets, last))
    assert disk.commits == [[1.0, 2.0, 3.0, 9.0]]


def test_events_beyond_the_limit_are_a_fault_that_never_clears():
    disk = Disk()
    ledger = InlineWriter(disk, wall_at, limit=2)
    disk.full = True
    assert [ledger.put(float(n), intent(n)) for n in (1, 2, 3)] == [1, 2, REFUSED]
    disk.full = False
    assert ledger.durable(2)
    assert "DoseIntent was lost while 2 events waited" in ledger.fault
    assert ledger.put(4.0, intent(4)) == 3
    assert "was lost" in ledger.fault


@pytest.mark.parametrize("writer", [InlineWriter, ThreadWriter])
def test_an_event_that_cannot_be_stored_is_a_fault_and_does_not_stop_the_others(writer):
    disk = Disk()
    ledger = writer(disk, wall_at)
    assert ledger.put(1.0, Reading(1, 1, float("nan"), None, None, None, False)) == REFUSED
    assert "Reading: level_l is nan" in ledger.fault
    ledger.put(2.0, look(2))
    ledger.close()
    assert disk.commits == [[2.0]]


def test_a_failing_disk_at_closing_still_closes_and_says_what_failed():
    for writer in (InlineWriter, ThreadWriter):
        disk = Disk()
        ledger = writer(disk, wall_at)
        disk.full = True
        ledger.put(1.0, look(1))
        ledger.close()
        assert "the disk is full" in ledger.fault
        assert disk.closed


def bytes_of_two_nights(folder, **options):
    path = folder / "record.sqlite"
    folder.mkdir()
    put_nights(path, 2, **options)
    assert not (folder / "record.sqlite-wal").exists()
    return path.read_bytes()


def test_the_same_events_give_the_same_bytes(tmp_path):
    assert bytes_of_two_nights(tmp_path / "a") == bytes_of_two_nights(tmp_path / "b")


def test_the_same_bytes_come_from_another_process_with_another_hash_seed(tmp_path):
    script = f"""
import sys
from itertools import chain
from pathlib import Path
sys.path.insert(0, {str(Path(__file__).parent)!r})
ballast = [object() for _ in range(int(sys.argv[2]))]
from believable_batch import put_nights
put_nights(Path(sys.argv[1]), 2)
"""
    made = []
    for seed in ("1", "77"):
        path = tmp_path / f"{seed}.sqlite"
        subprocess.run(
            [sys.executable, "-c", script, str(path), seed * 3],
            check=True,
            env={**os.environ, "PYTHONHASHSEED": seed},
        )
        made.append(path.read_bytes())
    assert made[0] == made[1]


def test_a_reader_in_the_middle_of_the_night_changes_no_byte_of_the_end(tmp_path):
    plain = bytes_of_two_nights(tmp_path / "plain")
    path = tmp_path / "read" / "record.sqlite"
    path.parent.mkdir()

    looked = []

    def wall_and_look(at_s):
        if 1000 < at_s < 1100:
            with JournalView(path) as view:
                looked.append(view.check().faults)
        return wall_at(at_s)

    put_nights(path, 2, wall=wall_and_look)
    assert looked
    assert not any(looked)
    assert path.read_bytes() == plain


def test_other_times_give_other_bytes(tmp_path):
    # Were this equal, the comparison above would compare nothing.
    later = bytes_of_two_nights(tmp_path / "b", wall=lambda at_s: wall_at(at_s + 1))
    assert bytes_of_two_nights(tmp_path / "a") != later


def test_the_thread_keeps_the_order_and_loses_nothing(tmp_path):
    path = tmp_path / "record.sqlite"
    ledger = ThreadWriter(Journal(path), wall_at)
    tickets = [ledger.put(float(number), look(number)) for number in range(3000)]
    assert tickets == list(range(1, 3001))
    ledger.close()
    ledger.close()
    assert ledger.fault is None
    assert all(map(ledger.durable, tickets))
    with JournalView(path) as view:
        assert [row.event.number for row in view.rows(Reading)] == list(range(3000))
        assert view.check().faults == ()


def test_a_put_returns_while_the_disk_hangs_and_is_durable_only_after_the_commit():
    disk = SlowDisk()
    ledger = ThreadWriter(disk, wall_at)
    first = ledger.put(1.0, intent(1))
    assert disk.began.acquire(timeout=PATIENCE_S)
    second, third = ledger.put(2.0, look(2)), ledger.put(3.0, intent(3))
    assert not ledger.durable(first)
    disk.leave.release()
    assert disk.began.acquire(timeout=PATIENCE_S)
    assert ledger.durable(first)
    assert not ledger.durable(second)
    disk.leave.release()
    ledger.close()
    assert ledger.durable(third)
    assert disk.commits == [[1.0], [2.0, 3.0]]


def test_a_queue_that_overflows_is_a_fault_for_good_and_the_rest_is_still_written():
    disk = SlowDisk()
    ledger = ThreadWriter(disk, wall_at, limit=3)
    for number in range(3):
        ledger.put(float(number), look(number))
    assert ledger.fault is None
    assert ledger.put(3.0, intent(3)) == REFUSED
    assert "DoseIntent was lost while 3 events waited" in ledger.fault
    assert not ledger.durable(REFUSED)
    for _ in range(4):
        disk.leave.release()
    ledger.close()
    assert list(chain.from_iterable(disk.commits)) == [0.0, 1.0, 2.0]
    assert "was lost" in ledger.fault


def test_the_thread_tries_again_with_the_next_event_and_the_fault_clears():
    disk = SlowDisk()
    disk.full = True
    ledger = ThreadWriter(disk, wall_at)
    first = ledger.put(1.0, intent(1))
    disk.pass_one()
    second = ledger.put(2.0, look(2))
    assert disk.began.acquire(timeout=PATIENCE_S)
    assert "the disk is full" in ledger.fault
    assert not ledger.durable(first)
    disk.full = False
    for _ in range(3):
        disk.leave.release()
    ledger.close()
    assert ledger.durable(first)
    assert ledger.durable(second)
    assert ledger.fault is None
    assert list(chain.from_iterable(disk.commits)) == [1.0, 2.0]


def test_one_transaction_of_the_thread_is_bounded():
    disk = SlowDisk()
    ledger = ThreadWriter(disk, wall_at, group=4)
    ledger.put(0.0, look(0))
    assert disk.began.acquire(timeout=PATIENCE_S)
    for number in range(1, 10):
        ledger.put(float(number), look(number))
    for _ in range(10):
        disk.leave.release()
    ledger.close()
    assert [len(commit) for commit in disk.commits] == [1, 4, 4, 1]


def test_a_writer_thread_that_breaks_says_so():
    class Broken(Disk):
        def append(self, entries):
            raise RuntimeError("out of memory")

    ledger = ThreadWriter(Broken(), wall_at)
    ticket = ledger.put(1.0, intent(1))
    ledger.close()
    assert ledger.fault == "the record writer stopped: out of memory"
    assert not ledger.durable(ticket)
    assert ledger.put(2.0, intent(2)) == REFUSED


def test_nothing_is_taken_after_closing():
    ledger = ThreadWriter(Disk(), wall_at)
    ledger.close()
    assert ledger.put(1.0, intent(1)) == REFUSED
    assert ledger.fault == "the record is closed"


def test_a_clock_that_fails_is_a_fault_and_not_a_crash():
    ledger = InlineWriter(Disk(), lambda at_s: datetime(2026, 1, 1))
    assert ledger.put(1.0, look(1)) == REFUSED
    assert "with a UTC offset" in ledger.fault
    assert InlineWriter(Disk(), lambda at_s: datetime(2026, 1, 1, tzinfo=UTC)).put(1.0, look(1)) == 1


def test_both_writers_keep_the_same_rows(tmp_path):
    said = []
    for name, writer in (("inline", InlineWriter), ("thread", ThreadWriter)):
        path = tmp_path / f"{name}.sqlite"
        ledger = writer(Journal(path), wall_at)
        for number in range(40):
            ledger.put(number * 1.5, StepStarted(1, number, "mix", "Mix", 60.0))
            ledger.put(number * 1.5, look(number))
            ledger.put(number * 1.5, Decision(1, number, "a", "b", "c"))
            ledger.put(number * 1.5 + 1, StepEnded(1, number, "done", ""))
        ledger.close()
        with JournalView(path) as view:
            said.append(([view.rows(table.event) for table in TABLES], view.check()))
    assert said[0] == said[1]
