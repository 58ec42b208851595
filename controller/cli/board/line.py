"""The line to the board: the port that is meant, opened and given back. Nothing here writes to a board."""

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

# Patient, where nothing runs while a person looks and nobody's lease hangs on it.
LOOKING_S = 0.5


def port_option(function: Function) -> Function:
    """Give a command `--port PORT`; the site's own port stands in when it is not given."""
    return click.option(
        "--port",
        metavar="PORT",
        help="Serial port of the line to the board (default: board.port of rig.toml).",
    )(function)


def port_of(site: Site, port: str | None) -> str:
    """Give the port that was chosen, or the site's; raises SiteFaults when there is none."""
    chosen = port or site.rig.board.port
    if chosen is None:
        from controller.settings.faults import SiteFaults
        from controller.settings.not_wired import PORT, missing

        raise SiteFaults([missing(PORT)])
    return chosen


@contextmanager
def open_board(site: Site, port: str, allowance_s: float = LOOKING_S) -> Iterator[BoardLink]:
    """Open the line for as long as the block runs; `allowance_s` is what an answer may take beside its bytes.

    Raises HardwareFault when the port cannot be opened. When the block raises one, because nothing answers as
    rig.toml says, and a board without settings is there instead, then that is told.
    """
    from firmware_bridge.board import BoardLink
    from firmware_bridge.faults import HardwareFault
    from firmware_bridge.serial_line import SerialLine

    settings = site.rig.board
    with SerialLine(port, settings.baud, time.monotonic, allowance_s) as line:
        try:
            yield BoardLink(line, settings.server_id)
        except HardwareFault:
            line.close()
            if _is_without_settings(port):
                remedy = "write them with `tankhand board limits write`"
                raise HardwareFault(port, "a board answers that holds no sound settings", remedy) from None
            raise


def _is_without_settings(port: str) -> bool:
    """Say whether a board answers in the way it falls back to without sound settings."""
    from firmware_bridge import registers as reg
    from firmware_bridge.board import BoardLink
    from firmware_bridge.firmware.board_file import FALLBACK_BAUD, FALLBACK_SERVER_ID
    from firmware_bridge.serial_line import SerialLine

    with SerialLine(port, FALLBACK_BAUD, time.monotonic, LOOKING_S) as line:
        board = BoardLink(line, FALLBACK_SERVER_ID).identity()
    return (
        board is not None and board.map_id == reg.MAP_ID and bool(board.self_tests & reg.SELF_TEST_SETTINGS)
    )
