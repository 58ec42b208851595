"""`tankhand board limits`: what the board may never exceed, set against this site, and written anew.

Only asking and telling live here; each number in words is `settings_rows.py`, the way to the board is
`mpremote.py`.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from controller.cli.answer import print_json
from controller.cli.board.line import open_board, port_of, port_option
from controller.cli.board.mpremote import BoardFiles, refuse_the_line, usb_option
from controller.cli.errors import FAILED
from controller.cli.options import json_option, load_chosen_site, site_option

if TYPE_CHECKING:
    from collections.abc import Sequence

    from controller.settings.values import Site
    from firmware_bridge.board import BoardIdentity
    from firmware_bridge.connect import Expected

ABOUT = """The caps that the board keeps by itself, whatever the computer says.

    They lie in one file on the board, which only `write` replaces, over the board's own USB port and after a
    person has agreed. There is deliberately no way to change a limit over the serial line: no Modbus frame
    can move a cap.
    """


@click.group(help=ABOUT)
def limits() -> None:
    """Hold the commands about limits; the help text is ABOUT."""


@limits.command("show")
@site_option
@port_option
@json_option
def show_limits(site: Path | None, port: str | None, as_json: bool) -> None:
    """Show what the board says of its limits, and what this site wants, each number in words.

    Over the line the board tells lease, valve cap, channels and a checksum of all the rest: when the
    checksums are alike, so is every number. It only reads.
    """
    from controller.cli.board.settings_rows import limit_rows
    from controller.service.board_settings import expected_of, limits_of
    from firmware_bridge.connect import identified

    checked = load_chosen_site(site)
    wanted, expected = limits_of(checked), expected_of(checked)
    with open_board(checked, port_of(checked, port)) as link:
        said = identified(link)
    alike = said.limits_checksum == expected.limits_checksum
    rows = limit_rows(checked, wanted)
    if as_json:
        print_json(
            {
                "alike": alike,
                "board": {
                    "checksum": said.limits_checksum,
                    "lease_ms": said.lease_ms,
                    "valve_cap_s": said.valve_cap_ms / 1000,
                    "channels": said.channels,
                    "front_ends_checksum": said.front_ends_checksum,
                },
                "site": {
                    "checksum": expected.limits_checksum,
                    "lease_ms": wanted.lease_ms,
                    "valve_cap_s": wanted.valve_cap_ms / 1000,
                    "channels": wanted.channels,
                    "front_ends_checksum": expected.front_ends_checksum,
                },
                "wanted": [{"what": what, "is": amount} for what, amount in rows],
            }
        )
        return
    _show_said(said, expected, alike)
    _show_rows("What this site wants", rows)


def _show_said(said: BoardIdentity, expected: Expected, alike: bool) -> None:
    from controller.cli.screen import console, print_lines, table
    from controller.record.words import duration

    told = (
        ("checksum of the limits", str(said.limits_checksum), str(expected.limits_checksum)),
        ("checksum of the front ends", str(said.front_ends_checksum), str(expected.front_ends_checksum)),
        ("channels", str(said.channels), str(expected.channels)),
    )
    out = console()
    out.print(table("Board and site", ("what", "board", "site"), told, (1, 2)))
    held = f"Lease {said.lease_ms} ms, longest opening of the valve {duration(said.valve_cap_ms / 1000)}."
    same = "The limits on the board are those of this site: every number below is on the board."
    other = "The limits on the board are NOT those of this site; `tankhand board limits write` replaces them."
    print_lines(out, [held, same if alike else other])


def _show_rows(title: str, rows: Sequence[tuple[str, str]]) -> None:
    from controller.cli.screen import console, table

    console().print(table(title, ("what", "is"), rows))


@limits.command("read")
@site_option
@usb_option
@json_option
def read_limits(site: Path | None, usb: str, as_json: bool) -> None:
    """Read every number that lies on the board, over its USB port, in the words of this site.

    Hold the local reset button while the board gets its power, as for writing. Nothing is changed.
    """
    from controller.cli.board.settings_rows import rows_of
    from firmware_bridge.faults import HardwareFault
    from firmware_bridge.firmware.board_file import BOARD_FILE, unpack

    checked = load_chosen_site(site)
    refuse_the_line(checked, usb)
    held = unpack(BoardFiles(usb).read(f"/{BOARD_FILE}") or b"")
    if held is None:
        remedy = "write them with `tankhand board limits write`"
        raise HardwareFault(usb, "the board holds no sound settings", remedy)
    rows = rows_of(checked, held)
    if as_json:
        print_json({"held": [{"what": what, "is": amount} for what, amount in rows]})
    else:
        _show_rows("What the board holds", rows)


@limits.command("write")
@site_option
@usb_option
@json_option
def write_limits(site: Path | None, usb: str, as_json: bool) -> None:
    """Write this site's limits, line and front ends to the board, over its USB port.

    Shows what changes, and asks for the site's name before anything is written. The board takes them at its
    next power-on.
    """
    from controller.cli.board.settings_rows import Rows, changes, rows_of
    from controller.cli.cautions import INSTALLING
    from controller.service.installation import settings_entry
    from firmware_bridge.firmware.board_file import unpack

    checked = load_chosen_site(site)
    refuse_the_line(checked, usb)
    entry = settings_entry(checked)
    new = unpack(entry.content)
    assert new is not None
    board = BoardFiles(usb)
    for number, caution in enumerate(INSTALLING, 1):
        click.echo(f"{number}. {caution}", err=True)
    present = board.read(entry.path)
    old = None if present is None else unpack(present)
    before: Rows = () if old is None else rows_of(checked, old)
    changed = changes(before, rows_of(checked, new))
    _tell_changes(changed, nothing_sound=old is None)
    if present != entry.content:
        _confirm(checked)
        board.write((entry,))
    if as_json:
        told = [{"what": what, "before": was, "after": will} for what, was, will in changed]
        print_json({"written": present != entry.content, "path": entry.path, "changes": told})
    elif present == entry.content:
        click.echo("The board holds exactly this already; nothing was written.")
    else:
        click.echo(
            "Written, read back and alike. Release the reset button, take the board's power away for a"
        )
        click.echo("moment, give it back, and prove the whole: tankhand check --hardware")


def _tell_changes(changed: Sequence[tuple[str, str, str]], *, nothing_sound: bool) -> None:
    if nothing_sound:
        click.echo("The board holds no sound settings now.", err=True)
    for what, was, will in changed:
        click.echo(f"  {what}: {was} -> {will}", err=True)


def _confirm(site: Site) -> None:
    name = click.prompt(f"Type the site's name ({site.policy.name}) to write this", err=True, type=str)
    if name != site.policy.name:
        click.echo(f'That is not "{site.policy.name}": nothing was written.', err=True)
        raise click.exceptions.Exit(FAILED)
