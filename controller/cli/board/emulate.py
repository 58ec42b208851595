"""`tankhand board emulate`: the real firmware on a pseudo-terminal, for outside tools to read and write.

Only asking and signals live here; the board is `sim.emulate`.
"""

from __future__ import annotations

import signal
import time
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

import click

from controller.cli.options import load_chosen_site, site_option

if TYPE_CHECKING:
    from controller.settings.values import Site


@click.command()
@site_option
@click.option(
    "--port", "link", required=True, type=click.Path(path_type=Path), metavar="LINK", help="Name to serve at."
)
@click.option(
    "--seed", type=click.IntRange(min=0), default=1, show_default=True, metavar="N", help="Seed of the plant."
)
def emulate(site: Path | None, link: Path, seed: int) -> None:
    """Serve the firmware of this site's board at LINK, before a simulated tank, until Ctrl-C.

    It is the same firmware that runs on the board. Its pumps and valve move only simulated water.
    """
    from sim.emulate import EmulatedBoard
    from sim.world import load_world

    checked = load_chosen_site(site)
    signal.signal(signal.SIGTERM, signal.default_int_handler)
    with suppress(KeyboardInterrupt), EmulatedBoard(checked, load_world(checked), seed, link) as board:
        click.echo(f"Served at {link} until Ctrl-C. Try, in another window:")
        click.echo(f"  {poll_line(checked, str(link))}")
        click.echo(f"  tankhand board show --port {link}")
        board.serve(lambda: False, time.monotonic)


def poll_line(site: Site, port: str) -> str:
    """Write the command by which a general Modbus tool reads the board's scan block once."""
    from shlex import quote

    from firmware_bridge import registers as reg

    board = site.rig.board
    return (
        f"mbpoll -m rtu -a {board.server_id} -b {board.baud} -P even -t 3 -r {reg.IN_MAP_ID + 1} "
        f"-c {reg.SCAN_WORDS} -1 {quote(port)}"
    )
