"""Ctrl-C as a wish: the first asks the running batch to stop safely, the second breaks off at once.

Before a batch has begun, the first breaks off at once.

Only signals live here; what a safe stop is, the batch decides.
"""

from __future__ import annotations

import signal
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType
from typing import NoReturn

import click

from controller.cli.errors import FAILED

NOTHING_BEGUN = "Stopped before anything was begun."


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


@contextmanager
def nothing_begun() -> Iterator[None]:
    """End in one line when Ctrl-C breaks off what the block reads and loads, for none of it can be lost."""
    try:
        yield
    except KeyboardInterrupt:
        say_nothing_begun()


def say_nothing_begun() -> NoReturn:
    """End, and say that no batch was begun."""
    click.echo(NOTHING_BEGUN, err=True)
    raise click.exceptions.Exit(FAILED)


@contextmanager
def broken_off() -> Iterator[None]:
    """End in one line when a second Ctrl-C breaks off the night at once."""
    try:
        yield
    except KeyboardInterrupt:
        click.echo("Broken off at once: the record holds what was begun, and no end of it.", err=True)
        raise click.exceptions.Exit(FAILED) from None
