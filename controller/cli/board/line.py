"""The line to the board for commands that only look: the port that is meant, opened and given back.

What is read over it is `state.py`. Nothing here writes to a board.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, TypeVar

import click

if TYPE_CHECKING:
    from controller.settings.values import Site
    from firmware_bridge.board import BoardLink

Function = TypeVar("Function", bound=Callable[..., Any])

# Patient: nothing runs while a person looks, and nobody's lease hangs on it.
ALLOWANCE_S = 0.5


def port_option(function: Function) -> Function:
    """Give a command `--port PORT`; the site's own port stands in when it is not given."""
    return click.option(
        "--port",
        metavar="PORT",
        help="Serial port of the line to the board (default: board.port of rig.toml).",
    )(function)


def port_of(site: Site, port: str | None) -> str:
    """Give the port that was chosen, or the site's; raises HardwareFault when there is none."""
    chosen = port or site.rig.board.port
    if chosen is None:
        from firmware_bridge.faults import HardwareFault

        remedy = (
            "write port in [board], or name one with --port; `ls /dev/serial/by-id` lists those plugged in"
        )
        raise HardwareFault("rig.toml: board.port", "the line to the board is not named", remedy)
    return chosen


@contextmanager
def open_board(site: Site, port: str) -> Iterator[BoardLink]:
    """Open the line for as long as the block runs; raises HardwareFault when the port cannot be opened."""
    from firmware_bridge.board import BoardLink
    from firmware_bridge.serial_line import SerialLine

    settings = site.rig.board
    with SerialLine(port, settings.baud, time.monotonic, ALLOWANCE_S) as line:
        yield BoardLink(line, settings.server_id)
