"""An emulated board that serves on a pty beside a test, and tells whether anything of it was ever on."""

from __future__ import annotations

import struct
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace

import pytest

from controller.cli.board import line
from controller.settings.values import Site
from firmware_bridge import registers as reg
from firmware_bridge.serial_line import SerialLine
from sim.emulate import EmulatedBoard
from sim.world import load_world

PATIENT_S = 30.0


class Served:
    """One board with all that was asked of it: Modbus functions, and every "on" of its outputs."""

    def __init__(self, board: EmulatedBoard) -> None:
        self.board = board
        self.functions: list[int] = []
        self.switched_on: list[str] = []

    @property
    def port(self) -> str:
        return self.board.port

    def note_round(self) -> bool:
        """Look at the outputs once a round, and go on."""
        pins = self.board.pins
        for name, on in (("valve", pins.valve), ("enable", pins.enable), ("motor", pins.motor_running)):
            if on:
                self.switched_on.append(name)
        return False


@contextmanager
def served(site: Site, monkeypatch: pytest.MonkeyPatch) -> Iterator[Served]:
    """Serve this site's board in a thread; the command line waits for it as long as a slow machine needs."""
    monkeypatch.setattr(line, "LOOKING_S", PATIENT_S)
    exchange = SerialLine.exchange
    stop = threading.Event()
    with EmulatedBoard(site, load_world(site), seed=5) as board:
        made = Served(board)

        def noted(self: SerialLine, request: bytes) -> bytes:
            made.functions.append(request[1])
            return exchange(self, request)

        monkeypatch.setattr(SerialLine, "exchange", noted)
        thread = threading.Thread(
            target=board.serve, args=(lambda: made.note_round() or stop.is_set(), time.monotonic)
        )
        thread.start()
        try:
            yield made
        finally:
            stop.set()
            thread.join(PATIENT_S)


def speaks_another_map(board: EmulatedBoard) -> int:
    """Let the board say that it has the next version of the register map; give that version."""
    other = reg.MAP_ID + 1
    struct.pack_into(">H", board._node._input, 2 * reg.IN_IDENTITY, other)
    return other & 0xFF


def wants_other_limits(site: Site) -> Site:
    """Give the same site with another cap of the valve."""
    board = replace(site.rig.board, valve_cap_s=site.rig.board.valve_cap_s / 2)
    return replace(site, rig=replace(site.rig, board=board))
