"""The `tankhand` command: its list of subcommands, and the one place where a failure meets the person.

No subcommand lives here. A new one is a line in `SUBCOMMANDS` and a file beside this one.
"""

from __future__ import annotations

import contextlib
import io
import os
import sys
from importlib import import_module
from typing import Any, NoReturn

import click

from controller.cli.errors import EXIT_CODES, FAILED, Explained, bug_line, explain
from controller.cli.stop import nothing_begun

SUBCOMMANDS = {
    "board": "controller.cli.board:board",
    "calibrate": "controller.cli.calibrate:calibrate",
    "check": "controller.cli.check:check",
    "endure": "controller.cli.endure:endure",
    "plan": "controller.cli.plan:plan",
    "record": "controller.cli.record:record",
    "serve": "controller.cli.serve:serve",
    "simulate": "controller.cli.simulate:simulate",
    "wiring": "controller.cli.wiring:wiring",
}


class LazyGroup(click.Group):
    """Import a subcommand only when it is asked for, and turn known faults into clear lines."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """List the names in order, without importing anything."""
        return sorted(SUBCOMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import the file of one subcommand; None when there is none of that name."""
        if cmd_name not in SUBCOMMANDS:
            return None
        module, _, attribute = SUBCOMMANDS[cmd_name].partition(":")
        with nothing_begun():
            command = getattr(import_module(module), attribute)
        assert isinstance(command, click.Command)
        return command

    def invoke(self, ctx: click.Context) -> Any:
        """Run; a fault of what the person gave ends in its own lines and exit code, never in a traceback.

        A fault of the program itself ends in one line that says so; `--debug` lets its traceback through.
        """
        try:
            return super().invoke(ctx)
        except (click.ClickException, click.exceptions.Exit, click.Abort, BrokenPipeError):
            raise
        except Exception as fault:
            explained = explain(fault)
            if explained is not None:
                end(explained)
            if ctx.params["debug"]:
                raise
            click.echo(bug_line(fault), err=True)
            ctx.exit(FAILED)

    def main(self, *args: Any, **extra: Any) -> Any:
        """Run as click does; a help page that cannot be printed is told as any other fault of the machine."""
        try:
            return super().main(*args, **extra)
        except OSError as fault:
            explained = explain(fault)
            if explained is None:
                raise
            try:
                end(explained)
            except click.exceptions.Exit as ended:
                sys.exit(ended.exit_code)


def end(explained: Explained) -> NoReturn:
    """Tell a known fault on stderr and end with its exit code."""
    for line in explained.lines:
        click.echo(line, err=True)
    if explained.stdout_is_lost:
        # Python writes what is left once more when it ends, and would show a traceback of that.
        with contextlib.suppress(OSError):
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    raise click.exceptions.Exit(explained.exit_code)


@click.group(cls=LazyGroup, context_settings={"help_option_names": ["-h", "--help"]}, epilog=EXIT_CODES)
@click.version_option(package_name="tankhand", prog_name="tankhand")
@click.option("--debug", is_flag=True, help="Show the traceback of a fault in the program itself.")
def main(debug: bool) -> None:
    """Night hand of a feed tank: fills, doses, mixes, reads and trims pH, and proves what is in the tank."""
    for stream in (sys.stdout, sys.stderr):
        # A terminal that lacks a character (a degree or micro sign) gets a "?" in its place, not a traceback.
        if isinstance(stream, io.TextIOWrapper):
            with contextlib.suppress(io.UnsupportedOperation):
                stream.reconfigure(errors="replace")
