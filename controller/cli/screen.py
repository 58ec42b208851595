"""How things look on a terminal: numbers with their units, times, and plain tables.

Only words and layout live here, nothing is computed about a batch. rich is imported when something is drawn,
so that a command that prints JSON does not pay for it.
"""

from __future__ import annotations

import shutil
import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rich.console import Console
    from rich.table import Table

PLAIN_WIDTH = 120


def console(*, to_stderr: bool = False) -> Console:
    """Make a console as wide as the terminal, or of a fixed width where there is none: logs are alike."""
    from rich.console import Console

    stream = sys.stderr if to_stderr else sys.stdout
    width = shutil.get_terminal_size().columns if stream.isatty() else PLAIN_WIDTH
    return Console(file=stream, width=width, highlight=False, emoji=False, markup=False)


def table(
    title: str, columns: Sequence[str], rows: Sequence[Sequence[str]], numbers: Sequence[int] = ()
) -> Table:
    """Lay out rows of ready words; the columns whose places are in `numbers` are right-aligned."""
    from rich import box
    from rich.table import Table
    from rich.text import Text

    made = Table(
        title=Text(title), title_justify="left", title_style="bold", box=box.SIMPLE_HEAD, pad_edge=False
    )
    for place, name in enumerate(columns):
        made.add_column(Text(name), justify="right" if place in numbers else "left", overflow="fold")
    for row in rows:
        made.add_row(*(Text(cell) for cell in row))
    return made


def litres(volume_l: float) -> str:
    """Write a tank volume in litres, to 0.1 L."""
    return f"{volume_l:.1f} L"


def millilitres(volume_ml: float) -> str:
    """Write a dose in millilitres: 0.1 mL, and 0.01 mL below 10 mL."""
    return f"{volume_ml:.2f} mL" if abs(volume_ml) < 10 else f"{volume_ml:.1f} mL"


def clock(duration_s: float) -> str:
    """Write a duration as h, min and s, leaving out what is nought in front; never below nought."""
    left_s = max(0, round(duration_s))
    hours, left_s = divmod(left_s, 3600)
    minutes, seconds = divmod(left_s, 60)
    if hours:
        return f"{hours} h {minutes:02d} min"
    return f"{minutes} min {seconds:02d} s" if minutes else f"{seconds} s"


def acidity(ph: float | None) -> str:
    """Write a pH to 0.01, or say that there is none."""
    return "no reading" if ph is None else f"pH {ph:.2f}"
