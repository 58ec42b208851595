"""`tankhand board`: look at the board, install its firmware, write its limits, or emulate it.

Only the group and its list of commands live here; each command has a file of its own.
"""

from __future__ import annotations

import click

from controller.cli.board.emulate import emulate
from controller.cli.board.install import install
from controller.cli.board.limits import limits
from controller.cli.board.show import show
from controller.cli.board.watch import watch


@click.group()
def board() -> None:
    """Look at the microcontroller board, install its firmware, write its limits, or emulate it."""


for _command in (emulate, install, limits, show, watch):
    board.add_command(_command)
