"""Whatever is done to a row, the chain tells: every cell of every table, every loss and every swap."""

from __future__ import annotations

import hashlib
import sqlite3
from dataclasses import fields
from itertools import combinations
from typing import get_args

import pytest
from believable_batch import wall_at

from controller.record.chain import GENESIS, ChainBreak, check, link
from controller.record.events import AnyEvent, Decision
from controller.record.journal import Journal
from controller.record.tables import TABLES, entry
from controller.record.view import JournalView

SAMPLE = {"str": "word", "int": 7, "float": 2.5, "bool": True, "float | None": 6.1}
OTHER = {"TEXT": "another word", "INTEGER": 12345, "REAL": 99.25}


def one_of_each():
    return [kind(*(SAMPLE[field.type] for field in fields(kind))) for kind in get_args(AnyEvent)]


@pytest.fixture(scope="module")
def record(tmp_path_factory):
    """Two rows of every table, and the file open for tampering."""
    path = tmp_path_factory.mktemp("chain") / "record.sqlite"
    with Journal(path) as journal:
        for at_s in (1.0, 2.0):
            journal.append([entry(at_s, wall_at(at_s), event) for event in one_of_each()])
    connection = sqlite3.connect(path, isolation_level=None)
    yield connection
    connection.close()


@pytest.fixture
def tampering(record):
    """Tamper inside a transaction that is undone afterwards."""
    assert check(record).faults == ()
    record.execute("BEGIN")
    yield record
    record.execute("ROLLBACK")
    assert check(record).faults == ()


ROWS = 2 * len(TABLES)
CELLS = [
    (table.name, column)
    for table in TABLES
    for column in ("at_s", "wall", *(column.name for column in table.columns), "chain")
]


@pytest.mark.parametrize(("table", "column"), CELLS)
def test_an_altered_cell_is_found(tampering, table, column):
    cells = tampering.execute(f"SELECT seq, {column}, typeof({column}) FROM {table}").fetchall()
    assert len(cells) == 2
    for seq, before, kind in cells:
        for after in (OTHER[kind.upper()], b"\xff\xfe", "'"):
            tampering.execute(f"UPDATE {table} SET {column} = ? WHERE seq = ?", (after, seq))
            verdict = check(tampering)
            assert ChainBreak.ALTERED in {fault.kind for fault in verdict.faults}
            assert verdict.faults[0].seq == seq
            tampering.execute(f"UPDATE {table} SET {column} = ? WHERE seq = ?", (before, seq))


def test_the_smallest_change_of_a_number_is_found(tampering):
    # One unit in the last place of a double: 6.1 and the next one up.
    tampering.execute("UPDATE reading SET ph = 6.1000000000000005 WHERE seq = (SELECT min(seq) FROM reading)")
    assert [fault.kind for fault in check(tampering).faults] == [ChainBreak.ALTERED]


def test_text_that_only_looks_the_same_is_found(tampering):
    tampering.execute("UPDATE decision SET believed = CAST(x'776f7264' AS BLOB)")
    assert [fault.kind for fault in check(tampering).faults] == [ChainBreak.ALTERED] * 2
    tampering.execute("UPDATE decision SET believed = CAST(x'776fff64' AS TEXT)")
    assert [fault.kind for fault in check(tampering).faults] == [ChainBreak.ALTERED] * 2


def test_a_byte_that_only_looks_like_the_sign_for_a_broken_byte_is_found(tmp_path):
    path = tmp_path / "record.sqlite"
    with Journal(path) as journal:
        journal.append([entry(1.0, wall_at(1.0), Decision(1, 1, "\ufffd", "b", "c"))])
    with sqlite3.connect(path) as careless:
        careless.execute("UPDATE decision SET believed = CAST(x'ff' AS TEXT)")
    careless.close()
    with JournalView(path) as view:
        assert [fault.kind for fault in view.check().faults] == [ChainBreak.ALTERED]


@pytest.mark.parametrize("seq", range(1, ROWS + 1))
def test_a_deleted_row_is_found(tampering, seq):
    table = TABLES[(seq - 1) % len(TABLES)].name
    assert tampering.execute(f"DELETE FROM {table} WHERE seq = ?", (seq,)).rowcount == 1
    (fault,) = check(tampering).faults
    assert fault.kind is (ChainBreak.HEAD if seq == ROWS else ChainBreak.MISSING)
    assert str(seq if seq < ROWS else seq - 1) in fault.text


@pytest.mark.parametrize("lost", range(1, ROWS + 1))
def test_a_lost_end_of_any_length_is_found(tampering, lost):
    for table in TABLES:
        tampering.execute(f"DELETE FROM {table.name} WHERE seq > ?", (ROWS - lost,))
    (fault,) = check(tampering).faults
    assert fault.kind is ChainBreak.HEAD
    assert "the last rows are lost" in fault.text


@pytest.mark.parametrize(("one", "other"), list(combinations(range(1, ROWS + 1), 2))[::7])
def test_two_rows_that_changed_places_are_found(tampering, one, other):
    for old, new in ((one, -1), (other, one), (-1, other)):
        for table in TABLES:
            tampering.execute(f"UPDATE {table.name} SET seq = ? WHERE seq = ?", (new, old))
    faults = check(tampering).faults
    altered = {fault.seq for fault in faults if fault.kind is ChainBreak.ALTERED}
    assert {one, other} <= altered


def test_rows_of_one_table_that_changed_places_with_their_links_are_found(tampering):
    first, second = tampering.execute("SELECT seq FROM decision ORDER BY seq").fetchall()
    for old, new in ((first[0], -1), (second[0], first[0]), (-1, second[0])):
        tampering.execute("UPDATE decision SET seq = ? WHERE seq = ?", (new, old))
    assert check(tampering).faults


def test_a_row_put_in_afterwards_is_found(tampering):
    row = tampering.execute("SELECT * FROM decision LIMIT 1").fetchone()
    marks = ", ".join("?" * len(row))
    tampering.execute(f"INSERT INTO decision VALUES ({marks})", (ROWS + 1, *row[1:]))
    assert {ChainBreak.ALTERED, ChainBreak.HEAD} == {fault.kind for fault in check(tampering).faults}
    tampering.execute(f"UPDATE decision SET seq = 1 WHERE seq = {ROWS + 1}")
    assert [fault.kind for fault in check(tampering).faults] == [ChainBreak.DOUBLED]


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE meta SET head_seq = head_seq - 1",
        "UPDATE meta SET head_chain = 'abc'",
        "UPDATE meta SET head_chain = x'00'",
        "UPDATE meta SET schema_version = 3",
        "DELETE FROM meta",
        "INSERT INTO meta SELECT * FROM meta",
    ],
)
def test_an_altered_head_is_found(tampering, statement):
    tampering.execute(statement)
    assert [fault.kind for fault in check(tampering).faults] == [ChainBreak.HEAD]


def test_a_lost_table_is_a_fault_and_not_a_traceback(tampering):
    tampering.execute("DROP TABLE reading")
    assert [fault.kind for fault in check(tampering).faults] == [ChainBreak.TORN]


def test_a_stretch_is_checked_against_the_row_before_it(tampering):
    assert check(tampering, 5, 9).faults == ()
    assert check(tampering, 5, 9).rows == 5
    tampering.execute(f"UPDATE {TABLES[3].name} SET chain = 'forged' WHERE seq = 4")
    assert [fault.seq for fault in check(tampering, 5, 9).faults] == [5]
    tampering.execute(f"DELETE FROM {TABLES[3].name} WHERE seq = 4")
    assert [(f.kind, f.seq) for f in check(tampering, 5, 9).faults] == [(ChainBreak.MISSING, 4)]
    tampering.execute(f"DELETE FROM {TABLES[8].name} WHERE seq = 9")
    assert (ChainBreak.MISSING, 9) in [(f.kind, f.seq) for f in check(tampering, 5, 9).faults]


def test_faults_elsewhere_do_not_spoil_a_stretch(tampering):
    tampering.execute(f"UPDATE {TABLES[0].name} SET batch = 99 WHERE seq = 1")
    assert check(tampering, 5).faults == ()
    assert len(check(tampering).faults) == 1


def test_a_link_is_a_plain_sha_256_that_anyone_can_make_again():
    # FIPS 180-4 by hashlib, over a text written out by hand: no code of ours takes part.
    text = '["' + "0" * 32 + '","decision",1,2.5,"2026-03-14T02:30:02.500+01:00",1,2,"pH","9 \\u2192 t",""]'
    row = (1, 2.5, "2026-03-14T02:30:02.500+01:00", 1, 2, "pH", "9 → t", "")
    assert link(GENESIS, "decision", row) == hashlib.sha256(text.encode()).hexdigest()[:32]


def test_the_same_words_in_two_rows_have_two_links(tmp_path):
    with Journal(tmp_path / "record.sqlite") as journal:
        journal.append([entry(1.0, wall_at(1.0), Decision(1, 1, "a", "b", "c"))] * 2)
        assert journal.verify() == ()
    with JournalView(tmp_path / "record.sqlite") as view:
        links = {row[0] for row in view._connection.execute("SELECT chain FROM decision")}
    assert len(links) == 2
