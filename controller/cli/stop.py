"""Ctrl-C as a wish: the first asks the running batch to stop safely, the second breaks off at once.

Before a batch has begun, the first breaks off at once.

Only signals live here; what a safe stop is, the batch decides.
"""

from __future__ import annotations

import os
import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from types import FrameType
from typing import NoReturn

import click

from controller.cli.errors import FAILED

STDERR = 2
FAREWELL_S = 0.5
NOTHING_BEGUN = "Stopped before anything was begun."


class StopAsked:
    """Tells the batch whether a person has asked it to stop."""

    def __init__(self) -> None:
        self.asked = False
        self._saying = threading.Thread(target=_say_stopping, name="stopping", daemon=True)

    def farewell(self) -> None:
        """Give what was said a moment to come out."""
        if self.asked:
            self._saying.join(FAREWELL_S)

    def __call__(self) -> bool:
        """Tell whether a stop has been asked for."""
        return self.asked

    def on_signal(self, number: int, frame: FrameType | None) -> None:
        """Note the first signal and say so; raise KeyboardInterrupt on the next."""
        if self.asked:
            raise KeyboardInterrupt
        self.asked = True
        self._saying.start()


def _say_stopping() -> None:
    """Say so past every buffer, in a thread: a terminal that hangs or has gone must not hold up the stop."""
    with suppress(OSError):
        os.write(STDERR, b"Stopping safely. Press Ctrl-C again to break off at once.\n")


@contextmanager
def stop_on_ctrl_c() -> Iterator[StopAsked]:
    """Take SIGINT, SIGTERM and a lost terminal as a wish to stop while the block runs."""
    stop = StopAsked()
    wishes = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)
    before = {number: signal.signal(number, stop.on_signal) for number in wishes}
    try:
        yield stop
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
        stop.farewell()


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
