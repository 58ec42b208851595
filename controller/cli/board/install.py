"""`tankhand board install`: put firmware and this site's settings on the board, and prove that they arrived.

Only telling, asking and the order of steps live here: the files are `controller.service.installation`, the
way to the board is `mpremote.py`.
"""

from __future__ import annotations

import hashlib
from pathlib import Path

import click

from controller.cli.answer import print_json
from controller.cli.board.mpremote import BoardFiles, refuse_the_line, usb_option
from controller.cli.options import json_option, load_chosen_site, site_option


@click.command()
@site_option
@usb_option
@click.option("--yes", is_flag=True, help="Go on without asking; the cautions are shown all the same.")
@json_option
def install(site: Path | None, usb: str, yes: bool, as_json: bool) -> None:
    """Copy the firmware and this site's settings to the board by mpremote (extra: hardware).

    The board must already run MicroPython (1.24 or newer), put there as its own project says.

    Each file is read back and compared. The start file goes last, so that a board that is half copied starts
    nothing. What else could run there (boot.py, other modules) is taken away; the board's record stays.
    """
    from controller.cli.cautions import INSTALLING
    from controller.service.installation import REMOVED_FIRST, installation, strays_among

    checked = load_chosen_site(site)
    refuse_the_line(checked, usb)
    entries = installation(checked)
    for number, caution in enumerate(INSTALLING, 1):
        click.echo(f"{number}. {caution}", err=True)
    total = sum(len(entry.content) for entry in entries)
    click.echo(f"{len(entries)} files, {total} bytes, go to the board on {usb}:", err=True)
    for entry in entries:
        click.echo(f"  {entry.path}  {len(entry.content)} bytes", err=True)
    click.echo(f"Before that these are taken away there: {', '.join(REMOVED_FIRST)},", err=True)
    click.echo(
        "and every other program: .py and .mpy files in the root, folders with all that is in them.", err=True
    )
    if not yes:
        click.confirm("Are the pumps unplugged, and shall it be installed?", abort=True, err=True)
    board = BoardFiles(usb)
    strays = strays_among(board.names())
    board.remove(REMOVED_FIRST)
    if strays:
        click.echo(f"Also taken away: {', '.join(strays)}", err=True)
        board.remove(strays)
    # The start file only when all that it starts is proven.
    board.write(entries[:-1])
    board.write(entries[-1:])
    if as_json:
        files = [
            {
                "path": entry.path,
                "bytes": len(entry.content),
                "sha256": hashlib.sha256(entry.content).hexdigest(),
            }
            for entry in entries
        ]
        told = {"installed": True, "site": checked.policy.name, "usb": usb, "files": files}
        print_json(told | {"taken_away": strays})
        return
    click.echo(
        "Installed, read back and alike. Release the reset button, take the board's power away for a moment,"
    )
    click.echo(
        "give it back. A new board then says that its memory is lost: press its reset button once. It may"
    )
    click.echo("say so again only when it has failed. Prove the whole: tankhand check --hardware")
