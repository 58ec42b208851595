"""`tankhand wiring`: cautions, pin tables, parts and a sketch, all from rig.toml.

Only asking and laying out live here: pins are `wired_pins.py`, optional parts `wiring_notes.py`, what to buy
`parts_list.py`, the drawing `wiring_sketch.py`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

import click

from controller.cli.answer import print_json, write_file
from controller.cli.errors import FAULT_OF_USE
from controller.cli.options import json_option, load_chosen_site, site_option

if TYPE_CHECKING:
    from controller.cli.wired_pins import WiredPin
    from controller.settings.faults import Fault
    from controller.settings.values import Site


@click.command()
@site_option
@click.option(
    "--svg",
    type=click.Path(dir_okay=False, path_type=Path),
    metavar="FILE",
    help="Draw the wiring sketch to FILE, an SVG picture that needs nothing else.",
)
@json_option
def wiring(site: Path | None, svg: Path | None, as_json: bool) -> None:
    """Print how this site is wired: cautions, every pin, and the parts that are needed.

    Nothing is opened and nothing moves. Exit code 2 when rig.toml does not say all that must be wired.
    """
    from controller.settings.not_wired import not_wired

    checked = load_chosen_site(site)
    missing = not_wired(checked)
    if svg is not None:
        from controller.cli.wiring_sketch import wiring_svg

        write_file(svg, wiring_svg(checked))
        click.echo(f"Written: {svg}", err=True)
    if as_json:
        print_json(wiring_as_json(checked, missing))
    else:
        show_wiring(checked)
    for fault in missing:
        click.echo(str(fault), err=True)
    if missing:
        raise click.exceptions.Exit(FAULT_OF_USE)


def wiring_as_json(site: Site, missing: Sequence[Fault]) -> dict[str, object]:
    """Give everything that the screen shows, for other programs."""
    from controller.cli.cautions import WIRING
    from controller.cli.parts_list import parts_list
    from controller.cli.wired_pins import board_pins, computer_pins, decoder_outputs
    from controller.cli.wiring_notes import scale_lines, wiring_notes

    return {
        "site": site.policy.name,
        "cautions": list(WIRING),
        "port": site.rig.board.port,
        "computer": [_pin_as_json(wired) for wired in computer_pins(site.rig.pins)],
        "board": [_pin_as_json(wired) for wired in board_pins()],
        "decoder": [asdict(output) for output in decoder_outputs(site)],
        "scales": [asdict(line) for line in scale_lines(site)],
        "notes": list(wiring_notes(site)),
        "parts": [asdict(part) for part in parts_list(site)],
        "missing": [asdict(fault) for fault in missing],
    }


def _pin_as_json(wired: WiredPin) -> dict[str, object]:
    return {
        "pin": wired.pin,
        "key": wired.key,
        "role": wired.role,
        "wired": wired.wired,
        "direction": wired.direction.value,
        "active": wired.active or None,
    }


def show_wiring(site: Site) -> None:
    """Print the cautions first, then computer, board, decoder and parts."""
    from controller.cli.cautions import WIRING
    from controller.cli.parts_list import parts_list
    from controller.cli.screen import console, print_lines, table
    from controller.cli.wired_pins import board_pins, computer_pins, decoder_outputs
    from controller.cli.wiring_notes import scale_lines, wiring_notes

    out = console()
    print_lines(out, ["Cautions", *(f"{number}. {text}" for number, text in enumerate(WIRING, 1)), ""])
    head = ("pin", "what", "wired", "works as", "on or yes at")
    if site.rig.pins is not None:
        rows = _pin_rows(computer_pins(site.rig.pins), "GPIO")
        out.print(table("Computer: GPIO numbers, not places on the header", head, rows))
    out.print(table("Board, the same at every site", head, _pin_rows(board_pins(), "GP")))
    outputs = [(str(output.output), output.pump) for output in decoder_outputs(site)]
    out.print(table("Decoder: each output enables one pump's driver", ("output", "pump"), outputs, (0,)))
    carried = [
        (f"GP{line.pin}", str(line.line), line.scale, ", ".join(line.pumps)) for line in scale_lines(site)
    ]
    if carried:
        out.print(table("Scales", ("pin", "data line", "scale", "carries what these draw from"), carried))
    print_lines(out, wiring_notes(site))
    rows = [
        (str(part.quantity), part.part, part.remark, "licensed electrician" if part.electrician else "")
        for part in parts_list(site)
    ]
    out.print(
        table("Parts, in general words", ("number", "part", "remark", "chosen and fitted by"), rows, (0,))
    )
    print_lines(out, [f"Line to the board: {site.rig.board.port or 'not named yet'}"])


def _pin_rows(pins: Sequence[WiredPin], prefix: str) -> list[tuple[str, ...]]:
    return [
        (f"{prefix}{wired.pin}", wired.role, wired.wired, wired.direction.value, wired.active)
        for wired in pins
    ]
