"""`tankhand record`: list, show, export, report and verify what was recorded.

Only asking and answering live here: reading is `controller.record`, drawing tables `record_screen.py`.
Nothing here writes to the record. Its own faults (`RecordFault`) become one line in `frame.py`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from controller.cli.answer import json_line, print_json, write_file
from controller.cli.errors import FAILED
from controller.cli.options import json_option, state_option
from controller.record.place import record_in

if TYPE_CHECKING:
    from controller.record.batch_record import BatchRecord, BatchSummary
    from controller.record.chain import ChainFault

Function = TypeVar("Function", bound=Callable[..., Any])


def which_batch(ctx: click.Context, param: click.Parameter, value: str) -> int | None:
    """Read a batch number, or `last`, which becomes None; a usage error for anything else."""
    if value == "last":
        return None
    # SQLite numbers end at 64 bits, and no site will ever mix that many batches.
    if not (value.isascii() and value.isdigit() and len(value) <= 18):
        from controller.settings.faults import plain

        raise click.BadParameter(f'"{plain(value)}" is neither a batch number nor "last".', ctx, param)
    return int(value)


def output_option(default: str) -> Callable[[Function], Function]:
    """Give a command `--output FILE`; `-` is stdout."""
    return click.option(
        "--output",
        type=click.Path(path_type=Path, dir_okay=False, allow_dash=True),
        metavar="FILE",
        help=f"File to write, - for stdout (default: {default}).",
    )


@click.group()
def record() -> None:
    """Read what was recorded: every batch with its amounts, steps, readings and alarms."""


@record.command("list")
@state_option
@json_option
def list_command(state: Path, as_json: bool) -> None:
    """List the batches, oldest first; calibrations and other deliveries beside the tank share a line."""
    from controller.record.batch_record import list_batches

    batches = list_batches(record_in(state))
    if as_json:
        print_json({"batches": [_summary(batch) for batch in batches]})
        return
    from controller.cli.record_screen import show_list

    show_list(batches)


@record.command()
@click.argument("batch", callback=which_batch)
@state_option
@json_option
def show(batch: int | None, state: Path, as_json: bool) -> None:
    """Show one BATCH (its number, or last: the last night) on screen."""
    found = _read(batch, state)
    if as_json:
        from controller.record.export import batch_as_json

        print_json(batch_as_json(found))
    else:
        from controller.cli.record_screen import show_batch

        show_batch(found)
    _exit_if_broken(record_in(state), found.chain.faults)


@record.command()
@click.argument("batch", callback=which_batch)
@click.option("--csv", "as_csv", is_flag=True, help="One CSV table, a row an event.")
@json_option
@output_option("stdout")
@state_option
def export(batch: int | None, as_csv: bool, as_json: bool, output: Path | None, state: Path) -> None:
    """Export everything about one BATCH (its number, or last) for other programs."""
    if as_csv == as_json:
        raise click.UsageError("Choose one of --csv and --json.")
    found = _read(batch, state)
    from controller.record.export import batch_as_json, export_csv

    _write(export_csv(found) if as_csv else json_line(batch_as_json(found)), output or Path("-"))
    _exit_if_broken(record_in(state), found.chain.faults)


@record.command()
@click.argument("batch", callback=which_batch)
@output_option("batch-NUMBER.html in this folder")
@state_option
def report(batch: int | None, output: Path | None, state: Path) -> None:
    """Write the report of one BATCH (its number, or last): one HTML page that needs no network."""
    found = _read(batch, state)
    from controller.record.report import report_html

    _write(report_html(found), output or Path(f"batch-{found.batch}.html"))
    _exit_if_broken(record_in(state), found.chain.faults)


@record.command()
@state_option
@json_option
def verify(state: Path, as_json: bool) -> None:
    """Check every row and the end of the record. Exit code 1 when anything is torn, altered or missing."""
    from controller.record.view import JournalView
    from controller.settings.faults import plain

    path = record_in(state)
    with JournalView(path) as view:
        chain = view.check()
    if as_json:
        from controller.record.export import chain_as_json

        print_json({"whole": not chain.faults, **chain_as_json(chain)})
    elif chain.faults:
        for fault in chain.faults:
            click.echo(plain(fault.text))
    else:
        click.echo(f"{path}: {chain.rows} rows, the chain holds. Last link: {chain.head.chain}")
    _exit_if_broken(path, chain.faults)


def _read(batch: int | None, state: Path) -> BatchRecord:
    from controller.record.batch_record import read_batch

    return read_batch(record_in(state), batch)


def _write(content: str, place: Path) -> None:
    """Write bytes, so that line ends and characters are the same everywhere; say on stderr where."""
    if str(place) == "-":
        click.echo(content.encode("utf-8"), nl=False)
        return
    write_file(place, content)
    click.echo(f"Written: {place}", err=True)


def _exit_if_broken(path: Path, faults: Sequence[ChainFault]) -> None:
    if faults:
        more = f" and {len(faults) - 1} more" if len(faults) > 1 else ""
        remedy = "what it says is not proven; keep the file and compare it with a copy"
        click.echo(f"{path}: the chain is broken: {faults[0].text}{more}; {remedy}", err=True)
        raise click.exceptions.Exit(FAILED)


def _summary(batch: BatchSummary) -> dict[str, object]:
    from controller.record.verdict import Permit, permit

    start, ended = batch.started.event, batch.ended
    allowed = permit(None if ended is None else ended.event)
    return {
        "batch": start.batch,
        "recipe": start.recipe,
        "beside_tank": batch.beside_tank,
        "title": start.title,
        "final_l": start.final_l,
        "started": batch.started.wall.isoformat(),
        "ended": None if ended is None else ended.wall.isoformat(),
        "result": None if ended is None else ended.event.result,
        "reason": None if ended is None else ended.event.reason,
        "released": allowed is Permit.GIVEN,
        "permit": allowed.value,
    }
