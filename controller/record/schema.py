"""Recognising a record file and making the tables of a new one.

The schema is compared word by word with the one this version would make; a file that differs is
never guessed at. Tables themselves are generated in `tables.py`.
"""

from __future__ import annotations

import sqlite3
from pathlib import Path

from controller.record.chain import GENESIS
from controller.record.fault import RecordFault
from controller.record.tables import APPLICATION_ID, SCHEMA, SCHEMA_VERSION

_ANOTHER_FOLDER = "name another folder with --state"


def recognise(connection: sqlite3.Connection, path: Path) -> bool:
    """Tell whether the file is a record of this version (True) or an empty file (False).

    RecordFault for anything else. sqlite3.Error when the file cannot be read at all.
    """
    application = connection.execute("PRAGMA application_id").fetchone()[0]
    version = connection.execute("PRAGMA user_version").fetchone()[0]
    found = {sql for (sql,) in connection.execute("SELECT sql FROM sqlite_schema")}
    if not found and application == 0 and version == 0:
        return False
    if application != APPLICATION_ID:
        raise RecordFault(path, "it is a database, but no Tankhand record", _ANOTHER_FOLDER)
    if version > SCHEMA_VERSION:
        what = f"it was written by a newer Tankhand (schema {version}, this one knows {SCHEMA_VERSION})"
        raise RecordFault(path, what, f"update Tankhand, or {_ANOTHER_FOLDER}")
    if version != SCHEMA_VERSION or found != set(SCHEMA):
        what = f"its tables are not those of schema {SCHEMA_VERSION}"
        raise RecordFault(path, what, f"read it with the Tankhand that wrote it, or {_ANOTHER_FOLDER}")
    return True


def make_schema(connection: sqlite3.Connection) -> None:
    """Make all tables and the head in one transaction."""
    connection.execute("BEGIN IMMEDIATE")
    for statement in SCHEMA:
        connection.execute(statement)
    connection.execute("INSERT INTO meta VALUES (?, 0, ?)", (SCHEMA_VERSION, GENESIS))
    connection.execute(f"PRAGMA application_id={APPLICATION_ID}")
    connection.execute(f"PRAGMA user_version={SCHEMA_VERSION}")
    connection.execute("COMMIT")
