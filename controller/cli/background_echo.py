"""Lines for a person, printed by a thread of their own: a terminal that hangs must not hold up the scans.

What cannot be printed is dropped; the record has it all the same.
"""

from __future__ import annotations

import queue
import threading
from contextlib import suppress
from types import TracebackType
from typing import Self

import click

MOST_WAITING = 1000
FAREWELL_S = 1.0


class BackgroundEcho:
    """Print lines without ever waiting; leaving `with` gives the last ones a second to come out."""

    def __init__(self) -> None:
        self._lines: queue.Queue[str | None] = queue.Queue(MOST_WAITING)
        self._thread = threading.Thread(target=self._print, name="lines", daemon=True)

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        while not self._put(None):
            with suppress(queue.Empty):
                self._lines.get_nowait()
        self._thread.join(FAREWELL_S)

    def __call__(self, line: str) -> None:
        """Take one line; drop it when too many wait already."""
        self._put(line)

    def _put(self, line: str | None) -> bool:
        try:
            self._lines.put_nowait(line)
        except queue.Full:
            return False
        return True

    def _print(self) -> None:
        while (line := self._lines.get()) is not None:
            try:
                click.echo(line)
            except OSError:
                return
