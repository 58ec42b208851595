"""How things are laid out on a terminal: lines and plain tables, safe whatever text they hold.

No words live here: numbers and times are worded by `controller.record.words`. rich is imported when something
is drawn, so that a command that prints JSON does not pay for it.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from controller.settings.faults import plain

if TYPE_CHECKING:
    from rich.console import Console
    from rich.table import Table

PLAIN_WIDTH = 120


def console(*, to_stderr: bool = False) -> Console:
    """Make a console as wide as the terminal is, or of a fixed width where there is none: logs are alike."""
    from rich.console import Console

    stream = sys.stderr if to_stderr else sys.stdout
    width = None if stream is not None and stream.isatty() else PLAIN_WIDTH
    return Console(file=stream, width=width, highlight=False, emoji=False, markup=False)


def print_lines(out: Console, lines: Iterable[str]) -> None:
    """Print each text on one line of its own, broken only by the terminal itself."""
    for line in lines:
        out.print(plain(line), soft_wrap=True)


def table(
    title: str, columns: Sequence[str], rows: Sequence[Sequence[str]], numbers: Sequence[int] = ()
) -> Table:
    """Lay out rows of ready words; the columns whose places are in `numbers` are right-aligned."""
    from rich import box
    from rich.table import Table
    from rich.text import Text

    made = Table(
        title=Text(plain(title)),
        title_justify="left",
        title_style="bold",
        box=box.SIMPLE_HEAD,
        pad_edge=False,
    )
    for place, name in enumerate(columns):
        made.add_column(Text(name), justify="right" if place in numbers else "left", overflow="fold")
    for row in rows:
        made.add_row(*(Text(plain(cell)) for cell in row))
    return made
