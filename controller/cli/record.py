"""`tankhand record`: list, show, export, report and verify what was recorded.

Only asking and answering live here: reading is `controller.record`, drawing tables `record_screen.py`.
Nothing here writes to the record. Its own faults (`RecordFault`) become one line in `frame.py`.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from controller.cli.errors import FAILED
from controller.cli.site_option import default_state_folder, json_option

if TYPE_CHECKING:
    from controller.record.batch_record import BatchRecord, BatchSummary
    from controller.record.chain import ChainFault

RECORD_FILE = "record.sqlite"
Function = TypeVar("Function", bound=Callable[..., Any])


def which_batch(ctx: click.Context, param: click.Parameter, value: str) -> int | None:
    """Read a batch number, or `last`, which becomes None; a usage error for anything else."""
    if value == "last":
        return None
    # SQLite numbers end at 64 bits, and no site will ever mix that many batches.
    if not (value.isascii() and value.isdigit() and len(value) <= 18):
        raise click.BadParameter(f'"{value}" is neither a batch number nor "last".', ctx, param)
    return int(value)


def state_option(function: Function) -> Function:
    """Give a command `--state DIR`."""
    return click.option(
        "--state",
        type=click.Path(path_type=Path),
        metavar="DIR",
        help=f"Folder with {RECORD_FILE} (default: where `tankhand simulate` keeps it).",
    )(function)


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
def list_command(state: Path | None, as_json: bool) -> None:
    """List the batches, oldest first."""
    from controller.record.batch_record import list_batches

    batches = list_batches(_record_in(state))
    if as_json:
        click.echo(json.dumps({"batches": [_summary(batch) for batch in batches]}, ensure_ascii=False))
        return
    from controller.cli.record_screen import show_list

    show_list(batches)


@record.command()
@click.argument("batch", callback=which_batch)
@state_option
@json_option
def show(batch: int | None, state: Path | None, as_json: bool) -> None:
    """Show one BATCH (its number, or last) on screen."""
    found = _read(batch, state)
    if as_json:
        from controller.record.export import export_json

        click.echo(export_json(found), nl=False)
    else:
        from controller.cli.record_screen import show_batch

        show_batch(found)
    _exit_if_broken(_record_in(state), found.chain.faults)


@record.command()
@click.argument("batch", callback=which_batch)
@click.option("--csv", "as_csv", is_flag=True, help="One CSV table, a row an event.")
@json_option
@output_option("stdout")
@state_option
def export(batch: int | None, as_csv: bool, as_json: bool, output: Path | None, state: Path | None) -> None:
    """Export everything about one BATCH (its number, or last) for other programs."""
    if as_csv == as_json:
        raise click.UsageError("Choose one of --csv and --json.")
    found = _read(batch, state)
    from controller.record.export import export_csv, export_json

    _write(export_csv(found) if as_csv else export_json(found), output or Path("-"))
    _exit_if_broken(_record_in(state), found.chain.faults)


@record.command()
@click.argument("batch", callback=which_batch)
@output_option("batch-NUMBER.html in this folder")
@state_option
def report(batch: int | None, output: Path | None, state: Path | None) -> None:
    """Write the report of one BATCH (its number, or last): one HTML page that needs no network."""
    found = _read(batch, state)
    from controller.record.report import report_html

    _write(report_html(found), output or Path(f"batch-{found.batch}.html"))
    _exit_if_broken(_record_in(state), found.chain.faults)


@record.command()
@state_option
@json_option
def verify(state: Path | None, as_json: bool) -> None:
    """Check every row and the end of the record. Exit code 1 when anything is torn, altered or missing."""
    from controller.record.view import JournalView

    path = _record_in(state)
    with JournalView(path) as view:
        verdict = view.check()
    if as_json:
        faults = [
            {"kind": fault.kind.value, "seq": fault.seq, "text": fault.text} for fault in verdict.faults
        ]
        head = {"head_seq": verdict.head.seq, "head": verdict.head.chain}
        click.echo(
            json.dumps(
                {"whole": not faults, "rows": verdict.rows, **head, "faults": faults}, ensure_ascii=False
            )
        )
    elif verdict.faults:
        for fault in verdict.faults:
            click.echo(fault.text)
    else:
        click.echo(f"{path}: {verdict.rows} rows, the chain holds. Last link: {verdict.head.chain}")
    _exit_if_broken(path, verdict.faults)


def _record_in(state: Path | None) -> Path:
    return (default_state_folder() if state is None else state) / RECORD_FILE


def _read(batch: int | None, state: Path | None) -> BatchRecord:
    from controller.record.batch_record import read_batch

    return read_batch(_record_in(state), batch)


def _write(content: str, place: Path) -> None:
    """Write bytes, so that line ends and characters are the same everywhere; say on stderr where."""
    if str(place) == "-":
        click.echo(content.encode("utf-8"), nl=False)
        return
    place.write_bytes(content.encode("utf-8"))
    click.echo(f"Written: {place}", err=True)


def _exit_if_broken(path: Path, faults: Sequence[ChainFault]) -> None:
    if faults:
        more = f" and {len(faults) - 1} more" if len(faults) > 1 else ""
        remedy = "what it says is not proven; keep the file and compare it with a copy"
        click.echo(f"{path}: the chain is broken: {faults[0].text}{more}; {remedy}", err=True)
        raise click.exceptions.Exit(FAILED)


def _summary(batch: BatchSummary) -> dict[str, object]:
    start, ended = batch.started.event, batch.ended
    return {
        "batch": start.batch,
        "recipe": start.recipe,
        "title": start.title,
        "final_l": start.final_l,
        "started": batch.started.wall.isoformat(),
        "ended": None if ended is None else ended.wall.isoformat(),
        "result": None if ended is None else ended.event.result,
        "reason": None if ended is None else ended.event.reason,
        "released": ended is not None and ended.event.released,
    }
