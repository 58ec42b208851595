"""Where a command keeps its nights: simulated ones apart from those of the real tank."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

import click

SIMULATED, LIVE = "simulated", "live"


def state_folder(kind: str) -> Path:
    """Give the folder of SIMULATED or LIVE nights when `--state` is not given.

    XDG Base Directory Specification: $XDG_STATE_HOME, or ~/.local/state when that is unset or not absolute.
    Raises a usage error when this user has no home.
    """
    chosen = Path(os.environ.get("XDG_STATE_HOME", ""))
    try:
        base = chosen if chosen.is_absolute() else Path.home() / ".local" / "state"
    except RuntimeError:
        raise click.UsageError("This user has no home folder: name a folder with --state.") from None
    return base / "tankhand" / kind


@contextmanager
def folder_for_a_night(folder: Path) -> Iterator[None]:
    """Make the folder; take away again what was made if the block is left before anything was put in it."""
    made = [one for one in (folder, *folder.parents) if not one.exists()]
    try:
        folder.mkdir(parents=True, exist_ok=True)
        yield
    finally:
        # The inner ones come first; one that holds a record is not empty and stays, with all above it.
        for one in made:
            with suppress(OSError):
                one.rmdir()
