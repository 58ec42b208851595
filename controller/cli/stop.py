"""Ctrl-C as a wish: the first asks the running batch to stop safely, the second breaks off at once.

Only signals live here; what a safe stop is, the batch decides.
"""

from __future__ import annotations

import signal
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType

import click


class StopAsked:
    """Tells the batch whether a person has asked it to stop."""

    def __init__(self) -> None:
        self.asked = False

    def __call__(self) -> bool:
        """Tell whether a stop has been asked for."""
        return self.asked

    def on_signal(self, number: int, frame: FrameType | None) -> None:
        """Note the first signal and say so; raise KeyboardInterrupt on the next."""
        if self.asked:
            raise KeyboardInterrupt
        self.asked = True
        click.echo("Stopping safely. Press Ctrl-C again to break off at once.", err=True)


@contextmanager
def stop_on_ctrl_c() -> Iterator[StopAsked]:
    """Take SIGINT and SIGTERM as a wish to stop while the block runs, and give both back afterwards."""
    stop = StopAsked()
    before = {number: signal.signal(number, stop.on_signal) for number in (signal.SIGINT, signal.SIGTERM)}
    try:
        yield stop
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
