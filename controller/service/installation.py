"""What is installed on a board: firmware, this site's settings, the list that proves them, the start file.

Only which files and in which order live here. How they get there is `controller.cli.board.mpremote`.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

import firmware_bridge
from controller.service.board_settings import board_file_of
from controller.settings.values import Site
from firmware_bridge.firmware.board_file import BOARD_FILE
from firmware_bridge.firmware.self_test import MANIFEST_FILE, START_CODE, START_FILE, could_run, manifest_of

PACKAGE = "firmware_bridge"
# Taken away before anything is copied: without the start file a board that is half copied starts nothing.
REMOVED_FIRST = (f"/{START_FILE}", f"/{MANIFEST_FILE}", f"/{PACKAGE}")


@dataclass(frozen=True, slots=True)
class BoardEntry:
    """One file on the board: its absolute path there, and its bytes."""

    path: str
    content: bytes


def strays_among(names: Iterable[str]) -> tuple[str, ...]:
    """Give what lies in the board's root, could run there, and is not taken away or replaced in any case.

    The board's record and other data stay.
    """
    return tuple(f"/{name}" for name in names if could_run(name) and f"/{name}" not in REMOVED_FIRST)


def firmware_files() -> dict[str, Path]:
    """Find the firmware as it lies in this installation, by its path on the board (the same package path)."""
    root = Path(firmware_bridge.__file__).parent
    sources = [root / "__init__.py", root / "registers.py", *sorted((root / "firmware").glob("*.py"))]
    return {f"{PACKAGE}/{source.relative_to(root).as_posix()}": source for source in sources}


def firmware_entries() -> tuple[BoardEntry, ...]:
    """Read the firmware."""
    return tuple(BoardEntry(f"/{path}", source.read_bytes()) for path, source in firmware_files().items())


def settings_entry(site: Site) -> BoardEntry:
    """Make the settings file of this site's board. Raises HardwareFault when rig.toml lacks a part."""
    return BoardEntry(f"/{BOARD_FILE}", board_file_of(site))


def installation(site: Site) -> tuple[BoardEntry, ...]:
    """List every file of a board in the order of copying: the start file last, when all it starts is there.

    The settings file stands in no manifest: it carries its own checksum, and is written anew by itself.
    """
    firmware, start = firmware_entries(), BoardEntry(f"/{START_FILE}", START_CODE)
    proven = [(entry.path[1:], entry.content) for entry in (*firmware, start)]
    manifest = BoardEntry(f"/{MANIFEST_FILE}", manifest_of(proven))
    return (*firmware, settings_entry(site), manifest, start)
