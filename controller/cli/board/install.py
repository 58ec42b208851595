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
    nothing.
    """
    from controller.cli.cautions import INSTALLING
    from controller.service.installation import REMOVED_FIRST, installation

    checked = load_chosen_site(site)
    refuse_the_line(checked, usb)
    entries = installation(checked)
    for number, caution in enumerate(INSTALLING, 1):
        click.echo(f"{number}. {caution}", err=True)
    total = sum(len(entry.content) for entry in entries)
    click.echo(f"{len(entries)} files, {total} bytes, go to the board on {usb}:", err=True)
    for entry in entries:
        click.echo(f"  {entry.path}  {len(entry.content)} bytes", err=True)
    click.echo(f"Before that these are taken away there: {', '.join(REMOVED_FIRST)}", err=True)
    if not yes:
        click.confirm("Are the pumps unplugged, and shall it be installed?", abort=True, err=True)
    board = BoardFiles(usb)
    board.remove(REMOVED_FIRST)
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
        print_json({"installed": True, "site": checked.policy.name, "usb": usb, "files": files})
        return
    click.echo(
        "Installed, read back and alike. Release the reset button, take the board's power away for a moment,"
    )
    click.echo("give it back, and prove the whole: tankhand check --hardware")
