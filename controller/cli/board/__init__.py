"""`tankhand board`: look at the board, install its firmware, write its limits, or emulate it.

Only the group and its list of commands live here; each command has a file of its own.
"""

from __future__ import annotations

import click

from controller.cli.board import emulate, install, limits, show, watch


@click.group()
def board() -> None:
    """Look at the microcontroller board, install its firmware, write its limits, or emulate it."""


for _command in (emulate.emulate, install.install, limits.limits, show.show, watch.watch):
    board.add_command(_command)
