"""The `tankhand` command: its list of subcommands, and the one place where a failure meets the person.

No subcommand lives here. A new one is a line in `SUBCOMMANDS` and a file beside this one.
"""

from __future__ import annotations

import contextlib
import io
import sys
from importlib import import_module
from typing import Any

import click

from controller.cli.errors import EXIT_CODES, FAILED, bug_line, explain

SUBCOMMANDS = {
    "check": "controller.cli.check:check",
    "plan": "controller.cli.plan:plan",
    "record": "controller.cli.record:record",
    "simulate": "controller.cli.simulate:simulate",
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
                for line in explained.lines:
                    click.echo(line, err=True)
                ctx.exit(explained.exit_code)
            if ctx.params["debug"]:
                raise
            click.echo(bug_line(fault), err=True)
            ctx.exit(FAILED)


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
