"""Change single settings in a site's rig.toml and keep everything else in it: comments, order, line ends.

The new file replaces the old one only when the whole site loads with it, and in one step; the old one stays
beside it. Which settings change, and why, is said by whoever calibrates.
"""

from __future__ import annotations

import math
import os
import re
import shutil
import tempfile
import tomllib
from collections.abc import Mapping, MutableMapping
from datetime import date
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AbstractTable

from controller.settings.faults import Fault, SiteFaults
from controller.settings.load import load_site

RIG_FILE = "rig.toml"
SIGNIFICANT_DIGITS, DOUBT_DIGITS = 5, 2
BYTE_ORDER_MARK = "\ufeff"
_LONE_LINE_FEED = re.compile(r"(?<!\r)\n")

Setting = str | int | float | date
Changes = Mapping[tuple[str, ...], Setting]
"""New values by the path of their key, e.g. ("pumps", "kelp", "per_count"); tables that lack are made."""


def rewrite_rig(folder: Path, changes: Changes, today: date) -> Path:
    """Change these settings in `folder`/rig.toml and give the path of the old file, which is kept.

    Raises SiteFaults when the site would not load with them, or when the file cannot take a change without
    touching something else, OSError when the folder cannot be written; nothing is changed then.
    """
    place, before, after = _proven(folder, changes)
    kept = _free_name(place, today)
    _write_whole(kept, before, place)
    new = place.with_name(f".{RIG_FILE}.new")
    _write_whole(new, after, place)
    os.replace(new, place)
    _flush_folder(place.parent)
    return kept


def check_rewrite(folder: Path, changes: Changes) -> None:
    """Raise what `rewrite_rig` would raise with these settings, and change nothing."""
    place, _, _ = _proven(folder, changes)
    with tempfile.TemporaryFile(dir=place.parent):
        pass


def with_changes(text: str, changes: Changes) -> str:
    """Give the file's text with these settings; raises SiteFaults if anything else would change.

    A byte-order mark stays, and added lines end as all others do.
    """
    mark = BYTE_ORDER_MARK if text.startswith(BYTE_ORDER_MARK) else ""
    plain = text.removeprefix(mark)
    wanted = tomllib.loads(plain)
    try:
        document = tomlkit.parse(plain)
        for path, value in changes.items():
            _put(document, path, value)
            _put_plain(wanted, path, value)
        changed = tomlkit.dumps(document)
    except TOMLKitError:
        raise _by_hand(next(iter(changes))) from None
    if "\r\n" in plain and _LONE_LINE_FEED.search(plain) is None:
        changed = _LONE_LINE_FEED.sub("\r\n", changed)
    if tomllib.loads(changed) != wanted:
        raise _by_hand(next(iter(changes)))
    return mark + changed


def quantity_text(value: float, unit: str, doubt: float | None = None) -> str:
    """Write a number and its unit, never with an exponent.

    To two digits of its `doubt`, an expanded uncertainty (GUM 7.2.6); to five significant ones without.
    """
    if value == 0:
        return f"0 {unit}"
    digits, size = (DOUBT_DIGITS, doubt) if doubt else (SIGNIFICANT_DIGITS, value)
    decimals = max(0, digits - 1 - math.floor(math.log10(abs(size))))
    return f"{value:.{decimals}f} {unit}"


def _put(document: tomlkit.TOMLDocument, path: tuple[str, ...], value: Setting) -> None:
    table: MutableMapping[str, Any] = document
    for name in path[:-1]:
        if name not in table:
            table[name] = tomlkit.table()
        table = table[name]
        if not isinstance(table, MutableMapping):
            raise _by_hand(path)
    key = path[-1]
    if key in table or not isinstance(table, AbstractTable):
        table[key] = value
    else:
        _add_before_blank_lines(table, key, value)


def _add_before_blank_lines(table: AbstractTable, key: str, value: Setting) -> None:
    """Put a new key right behind the table's last one, not behind the blank lines and comments after it."""
    inner = table.value
    last = next((name for name, _ in reversed(inner.body) if name is not None), None)
    if last is None or isinstance(inner.item(last), AbstractTable):
        table[key] = value
    else:
        inner._insert_after(last, key, tomlkit.item(value))


def _put_plain(table: dict[str, Any], path: tuple[str, ...], value: Setting) -> None:
    for name in path[:-1]:
        table = table.setdefault(name, {})
    table[path[-1]] = value


def _by_hand(path: tuple[str, ...]) -> SiteFaults:
    problem = "cannot be changed by itself as the file is written"
    return SiteFaults([Fault(RIG_FILE, ".".join(path), "", problem, "write the new value in by hand")])


def _proven(folder: Path, changes: Changes) -> tuple[Path, str, str]:
    """Give the file, its text and its new text, with which the site was loaded."""
    place = (folder / RIG_FILE).resolve()
    # Bytes, so that line ends stay what they are.
    before = place.read_bytes().decode("utf-8")
    after = with_changes(before, changes)
    _prove(folder, after)
    return place, before, after


def _prove(folder: Path, rig_text: str) -> None:
    """Load the whole site with the new text, in a folder of its own."""
    with tempfile.TemporaryDirectory(prefix="tankhand-") as made:
        copy = Path(made) / folder.resolve().name
        shutil.copytree(folder, copy)
        (copy / RIG_FILE).write_bytes(rig_text.encode("utf-8"))
        load_site(copy)


def _free_name(place: Path, today: date) -> Path:
    """Give a name for the old file that nothing has yet."""
    first = place.with_name(f"{RIG_FILE}.until-{today}")
    number, free = 1, first
    while free.exists():
        number += 1
        free = first.with_name(f"{first.name}-{number}")
    return free


def _write_whole(place: Path, text: str, like: Path) -> None:
    """Write a file down to the disk, with the permissions of another."""
    try:
        with place.open("wb") as file:
            file.write(text.encode("utf-8"))
            file.flush()
            os.fsync(file.fileno())
        shutil.copymode(like, place)
    except OSError as error:
        error.filename = error.filename or str(place)
        place.unlink(missing_ok=True)
        raise


def _flush_folder(folder: Path) -> None:
    """Have the folder itself on the disk, so that a power cut does not bring the old name back."""
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
