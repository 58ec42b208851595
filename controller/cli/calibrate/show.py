"""`tankhand calibrate show`: list the calibrations on record, or show the last certificate of one item."""

from __future__ import annotations

import json
import math
from collections.abc import Collection, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from controller.cli.answer import print_json, write_file
from controller.cli.options import json_option, state_option

if TYPE_CHECKING:
    from controller.record.events import Calibration
    from controller.record.rows import Row


PLAIN_DECIMALS = 6


@click.command()
@click.argument("item", required=False)
@state_option
@click.option(
    "--html",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Write the certificate as a page to print.",
)
@json_option
def show(item: str | None, state: Path, html: Path | None, as_json: bool) -> None:
    """List the calibrations on record, or show the last one of ITEM, e.g. "pump kelp" or just kelp."""
    from controller.service.certificates import calibrations

    rows = calibrations(state)
    if item is None:
        if html is not None:
            raise click.UsageError("Name the item whose certificate is wanted.")
        _list(rows, as_json=as_json)
        return
    names = _found_names(item, {row.event.item for row in rows})
    row = next((row for row in reversed(rows) if row.event.item in names), None)
    if row is None:
        known = ", ".join(sorted({row.event.item for row in rows})) or "none"
        from controller.settings.faults import plain

        message = f'No calibration of "{plain(item)}" is on record; on record: {plain(known)}.'
        raise click.BadParameter(message, param_hint="'ITEM'")
    _show(row.event, html, as_json=as_json)


def value_words(event: Calibration) -> str:
    """Write what was found with its doubt, to two digits of that, never with an exponent."""
    value, doubt, unit = event.value, event.uncertainty, event.unit
    if unit == "slope share":
        value, doubt, unit = 100.0 * value, 100.0 * doubt, "% of the full slope"
    decimals = max(0, 1 - math.floor(math.log10(doubt))) if doubt > 0.0 else PLAIN_DECIMALS
    return f"{value:.{decimals}f} ± {doubt:.{decimals}f} {unit}".rstrip()


def _found_names(item: str, names: Collection[str]) -> tuple[str, ...]:
    """Give the name a person means: as it is, a pump's, or the shortest that holds these words."""
    for name in (item, f"pump {item}"):
        if name in names:
            return (name,)
    words = item.lower().split()
    holding = [name for name in names if words and set(words) <= set(name.lower().split())]
    return tuple(sorted(holding, key=lambda name: (len(name), name))[:1])


def _show(event: Calibration, html: Path | None, *, as_json: bool) -> None:
    found = _certificate(event)
    if html is not None:
        if not _is_pump(found):
            raise click.UsageError(f"There is no page for {event.item}.")
        from controller.cli.calibrate.pump_words import certificate_html

        write_file(html, certificate_html(found))
        click.echo(f"Written: {html}", err=True)
    elif as_json:
        print_json(found)
    elif _is_pump(found):
        from controller.cli.calibrate.pump_words import show as show_pump

        show_pump(found)
    else:
        from controller.settings.faults import plain

        word = "passed" if event.passed else "NOT PASSED"
        click.echo(plain(f"{event.item}: {value_words(event)}, {word}, by {event.by}"))


def _certificate(event: Calibration) -> dict[str, Any]:
    try:
        found = json.loads(event.detail)
    except (ValueError, RecursionError):
        found = None
    return found if isinstance(found, dict) else {"item": event.item}


def _is_pump(found: Mapping[str, Any]) -> bool:
    return "pump" in found and "volumes" in found


def _list(rows: tuple[Row[Calibration], ...], *, as_json: bool) -> None:
    if as_json:
        print_json({"calibrations": [_line(row) for row in rows]})
        return
    from controller.cli.screen import console, table
    from controller.record.words import date_and_time

    cells = [
        (
            row.event.item,
            date_and_time(row.wall),
            row.event.by,
            value_words(row.event),
            "passed" if row.event.passed else "not passed",
        )
        for row in rows
    ]
    console().print(table("Calibrations", ("item", "when", "by", "found", "result"), cells))


def _line(row: Row[Calibration]) -> dict[str, object]:
    event = row.event
    return {
        "item": event.item,
        "date": row.wall.isoformat(),
        "by": event.by,
        "passed": event.passed,
        "value": event.value,
        "uncertainty": event.uncertainty,
        "unit": event.unit,
    }
