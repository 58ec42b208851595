"""`tankhand board watch`: the board's inputs again and again, until Ctrl-C. It reads, and writes nothing."""

from __future__ import annotations

from contextlib import suppress
from itertools import count
from pathlib import Path
from time import sleep
from typing import TYPE_CHECKING

import click

from controller.cli.answer import print_json
from controller.cli.board.line import open_board, port_of, port_option
from controller.cli.options import json_option, load_chosen_site, site_option

if TYPE_CHECKING:
    from controller.run.image import BoardImage
    from firmware_bridge.board import BoardLink

EVERY_S = 1.0


@click.command()
@site_option
@port_option
@click.option(
    "--times", type=click.IntRange(min=1), metavar="N", help="End after N looks (default: Ctrl-C ends)."
)
@json_option
def watch(site: Path | None, port: str | None, times: int | None, as_json: bool) -> None:
    """Show the board's inputs once a second until Ctrl-C; with --json one object a line.

    It only reads: nothing moves, and no lease is renewed.
    """
    from firmware_bridge.connect import identified

    checked = load_chosen_site(site)
    with open_board(checked, port_of(checked, port)) as link, suppress(KeyboardInterrupt):
        identified(link)
        for number in count(1):
            _tell(link, as_json)
            if number == times:
                return
            sleep(EVERY_S)


def _tell(link: BoardLink, as_json: bool) -> None:
    from controller.cli.board.state import image_as_json, read_image

    image = read_image(link)
    if as_json:
        print_json({"answered": image is not None, **({} if image is None else image_as_json(image))})
    else:
        click.echo("the board does not answer" if image is None else _line(image))


def _line(image: BoardImage) -> str:
    from controller.cli.board.words import input_rows, output_rows
    from controller.record.words import duration

    parts = [f"{name} {says}" for name, says in (*output_rows(image), *input_rows(image))]
    tripped = "no trip" if image.first_trip is None else f"tripped: {image.first_trip.value}"
    return " · ".join([duration(image.uptime_ms / 1000), tripped, *parts])
