"""The progress bar of a running night: which step, how far, how long still.

Only drawing lives here, on stderr and only for a terminal, so that stdout stays clean for the answer.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from typing import TYPE_CHECKING

from controller.cli.screen import console
from controller.record.words import acidity, duration, litres

if TYPE_CHECKING:
    from rich.console import Console
    from rich.progress import Progress as Bar
    from rich.progress import TaskID

    from sim.night import Progress

BAR_WIDTH = 12
WIDE = 100
"""Columns from which on there is room for the readings too."""


@contextmanager
def progress_shown() -> Iterator[Callable[[Progress], None] | None]:
    """Show a bar while the block runs and give what feeds it; None where nobody watches a terminal."""
    if not sys.stderr.isatty():
        yield None
        return
    with bar_on(console(to_stderr=True)) as bar:
        yield BarFeed(bar, bar.add_task("starting", total=1.0, left=""))


def bar_on(terminal: Console) -> Bar:
    """Lay out one line: the bar and the time left keep their width, and the step is cut where room ends."""
    from rich.progress import BarColumn, TextColumn
    from rich.progress import Progress as Bar
    from rich.table import Column

    return Bar(
        BarColumn(bar_width=BAR_WIDTH, table_column=Column(no_wrap=True)),
        TextColumn("{task.fields[left]}", markup=False, table_column=Column(no_wrap=True)),
        TextColumn(
            "{task.description}",
            markup=False,
            table_column=Column(no_wrap=True, overflow="ellipsis", ratio=1),
        ),
        console=terminal,
        transient=True,
        expand=True,
    )


class BarFeed:
    """Takes what the night says after each scan, and draws only what a person would see change."""

    def __init__(self, bar: Bar, task: TaskID) -> None:
        self._bar = bar
        self._task = task
        self._drawn: tuple[int, str] | None = None

    def __call__(self, progress: Progress) -> None:
        """Redraw when the step or the minutes have changed."""
        minute = replace(
            progress, now_s=progress.now_s // 60 * 60, left_s=math.ceil(progress.left_s / 60) * 60
        )
        drawn = (progress.step_number, time_line(minute))
        if drawn == self._drawn:
            return
        self._drawn = drawn
        self._bar.update(
            self._task,
            description=step_line(progress, readings=self._bar.console.width >= WIDE),
            completed=share_done(progress),
            left=drawn[1],
        )


def time_line(progress: Progress) -> str:
    """Say how long it is to the release, and after it how far the night has come."""
    if progress.left_s > 0:
        return f"{duration(progress.left_s)} left"
    return f"{duration(progress.now_s)} into the night"


def step_line(progress: Progress, *, readings: bool) -> str:
    """Name the step and, where there is room, the readings; the title comes last, for it may be cut."""
    words = [f"step {progress.step_number} of {progress.steps}"]
    if readings and progress.level_l is not None:
        words.append(litres(progress.level_l))
    if readings and progress.ph is not None:
        words.append(acidity(progress.ph))
    words.append(f"{progress.kind}: {progress.title}")
    return " · ".join(words)


def share_done(progress: Progress) -> float:
    """Give the share of the way to the release that is behind, 0 to 1, by the night's own clock."""
    whole_s = progress.now_s + progress.left_s
    return min(1.0, max(0.0, progress.now_s / whole_s)) if whole_s > 0 else 1.0
