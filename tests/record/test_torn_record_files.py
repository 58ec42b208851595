"""A record whose bytes were flipped or cut is either found out, or nothing that it says has changed."""

from __future__ import annotations

import json
import random
import sqlite3

import pytest
from believable_batch import put_nights

from controller.record.batch_record import list_batches, read_batch
from controller.record.export import batch_as_json, export_csv
from controller.record.fault import RecordFault
from controller.record.journal import Journal
from controller.record.report import report_html
from controller.record.tables import TABLES
from controller.record.view import JournalView


@pytest.fixture(scope="module")
def whole(tmp_path_factory):
    path = tmp_path_factory.mktemp("whole") / "record.sqlite"
    put_nights(path)
    return path.read_bytes(), all_rows(path)


def all_rows(path):
    with JournalView(path) as view:
        return {table.name: view.rows(table.event) for table in TABLES}


def tell(path, said):
    """Read a damaged file in every way there is; True if it was found out, False if it is as it was."""
    try:
        for batch in list_batches(path):
            told = read_batch(path, batch.batch)
            report_html(told), json.dumps(batch_as_json(told)), export_csv(told)
        with JournalView(path) as view:
            faults = view.check().faults
        rows = all_rows(path)
    except RecordFault as fault:
        return is_one_line(fault)
    if not faults:
        assert rows == said
    return bool(faults)


def open_for_writing(path):
    try:
        Journal(path).close()
    except RecordFault as fault:
        is_one_line(fault)


def is_one_line(fault):
    assert len(str(fault).splitlines()) == 1
    return True


@pytest.mark.parametrize("seed", range(6))
def test_flipped_bytes_are_found_or_harmless(tmp_path, whole, seed):
    content, said = whole
    chance = random.Random(seed)
    written = [place for place, byte in enumerate(content) if byte]
    found = 0
    for number in range(25):
        path = tmp_path / f"{number}.sqlite"
        place = chance.choice(written) if number % 5 else chance.randrange(len(content))
        torn = bytearray(content)
        torn[place] ^= 1 << chance.randrange(8)
        path.write_bytes(torn)
        found += tell(path, said)
        open_for_writing(path)
    assert found > 10


def test_a_torn_name_that_the_database_quotes_in_its_complaint_is_one_line(tmp_path, whole):
    content, said = whole
    for number, name in enumerate((b"\xdfecision", b"\x01ecision", b"d\nc\rsion")):
        torn = content.replace(b"tabledecision", b"table" + name).replace(
            b"CREATE TABLE deci", b"CREATQ TABLE deci"
        )
        assert torn != content
        path = tmp_path / f"{number}.sqlite"
        path.write_bytes(torn)
        assert tell(path, said)
        open_for_writing(path)


@pytest.mark.parametrize("seed", range(3))
def test_a_page_of_rubbish_or_noughts_is_found_or_harmless(tmp_path, whole, seed):
    content, said = whole
    chance = random.Random(seed)
    for number in range(8):
        path = tmp_path / f"{number}.sqlite"
        page = 4096 * chance.randrange(len(content) // 4096)
        rubbish = chance.randbytes(4096) if number % 2 else bytes(4096)
        path.write_bytes(content[:page] + rubbish + content[page + 4096 :])
        assert tell(path, said)
        open_for_writing(path)


def test_a_file_cut_short_anywhere_is_found(tmp_path, whole):
    content, said = whole
    chance = random.Random(7)
    for number, length in enumerate(
        [1, 15, 16, 99, 100, 4095, 4096, *chance.sample(range(len(content)), 15)]
    ):
        path = tmp_path / f"{number}.sqlite"
        path.write_bytes(content[:length])
        assert tell(path, said)
        open_for_writing(path)


EXTREMES = [
    1e308,
    -1e308,
    1e-320,
    float("inf"),
    2**63 - 1,
    -(2**63),
    0,
    "",
    "\x1b[31m",
    "9999-12-31T23:59:59+00:00",
    b"\xff",
]


@pytest.mark.parametrize("table", TABLES, ids=lambda table: table.name)
def test_the_wildest_value_in_any_cell_gives_a_doubtful_page_or_one_clear_line(tmp_path, whole, table):
    content, said = whole
    path = tmp_path / "record.sqlite"
    path.write_bytes(content)
    chance = random.Random(table.name)
    wild = sqlite3.connect(path, isolation_level=None)
    for column in ("at_s", "wall", "chain", *(column.name for column in table.columns)):
        for extreme in chance.sample(EXTREMES, 3):
            before = wild.execute(f"SELECT seq, {column} FROM {table.name} LIMIT 1").fetchone()
            wild.execute(f"UPDATE {table.name} SET {column} = ? WHERE seq = ?", (extreme, before[0]))
            after = wild.execute(f"SELECT {column} FROM {table.name} WHERE seq = ?", before[:1]).fetchone()
            assert tell(path, said) is (before[1:] != after)
            wild.execute(f"UPDATE {table.name} SET {column} = ? WHERE seq = ?", before[::-1])
    wild.close()
    assert not tell(path, said)
