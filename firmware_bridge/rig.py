"""The wired rig behind the controller's port: the board over its line, the panel on the computer's own pins.

Only the order lives here in which the two are driven, and that a fault of one never keeps the other on. What
may be on at all was decided before.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import ExitStack, suppress
from types import TracebackType
from typing import Self

from controller.run.image import Image
from controller.run.request import ALL_OFF, Request
from firmware_bridge.board import BoardLink
from firmware_bridge.panel import Panel


class WiredRig:
    """Board and panel as one rig; leaving `with` switches everything off.

    The line is closed by who opened it. `prove` says whether it is the right board, and is asked again when
    one answers that has started anew: a plug may have been put into another.
    """

    def __init__(self, link: BoardLink, panel: Panel, prove: Callable[[], bool] = lambda: True) -> None:
        self._link = link
        self._panel = panel
        self._prove = prove
        self._proven_boot: int | None = None

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def read(self) -> Image:
        """Take one image of every input; a board that is not proven counts as silent."""
        board = self._link.read()
        if board is not None and board.boot_id != self._proven_boot:
            if self._prove():
                self._proven_boot = board.boot_id
            else:
                board = None
        return Image(board=board, panel=self._panel.read())

    def write(self, outputs: Request) -> None:
        """Drive every output once: first the relays that go off, then the board, then the relays that go on.

        A relay goes on only after the board has taken the command, so that nothing starts beside what the
        board may not have stopped yet. Whatever goes wrong, both sides are told "all off" before the error
        leaves.
        """
        try:
            self._panel.drive(_in_both(self._panel.driven, outputs))
            if self._link.write(outputs):
                self._panel.drive(outputs)
        except BaseException:
            with suppress(Exception):
                self._panel.drive(ALL_OFF)
            with suppress(Exception):
                self._link.write(ALL_OFF)
            raise

    def close(self) -> None:
        """Switch everything off on both sides, the pins first, and let the pins go."""
        with ExitStack() as both:
            both.callback(self._panel.close)
            both.callback(self._link.write, ALL_OFF)
            self._panel.off()


def _in_both(one: Request, other: Request) -> Request:
    """Give the relays that both ask for."""
    return Request(
        stir=one.stir and other.stir,
        air=one.air and other.air,
        agitators=one.agitators & other.agitators,
        drain=one.drain and other.drain,
        permit=one.permit and other.permit,
    )
