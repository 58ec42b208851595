"""The options that many commands share: where the site's files are, where the record is kept.

Only options and their defaults live here. The demo site's place is asked of `controller.settings`, late,
because that import is slow.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

if TYPE_CHECKING:
    from controller.settings import Site

Function = TypeVar("Function", bound=Callable[..., Any])


def site_option(function: Function) -> Function:
    """Give a command `--site DIR`; the demo site stands in when it is not given."""
    return click.option(
        "--site",
        type=click.Path(path_type=Path),
        metavar="DIR",
        help="Folder with rig.toml, inputs.toml, site.toml and recipes/ (default: the demo site).",
    )(function)


def json_option(function: Function) -> Function:
    """Give a command `--json`: one JSON object on stdout and nothing else."""
    return click.option("--json", "as_json", is_flag=True, help="Print one JSON object and nothing else.")(
        function
    )


def load_chosen_site(folder: Path | None) -> Site:
    """Read the chosen site, or the demo site; raises SiteFaults."""
    from controller.settings import demo_site_folder, load_site

    return load_site(demo_site_folder() if folder is None else folder)


def default_state_folder() -> Path:
    """Where simulated nights are recorded when `--state` is not given.

    XDG Base Directory Specification: $XDG_STATE_HOME, or ~/.local/state when that is unset or not absolute.
    """
    chosen = Path(os.environ.get("XDG_STATE_HOME", ""))
    base = chosen if chosen.is_absolute() else Path.home() / ".local" / "state"
    return base / "tankhand" / "simulated"
