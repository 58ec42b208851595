"""The emulated board: the real firmware on fake pins before a simulated plant, on a pty, in real time.

For trying tools and the host's line against the firmware without a board. The relays of the computer's side
are not here, so nothing stirs. No decisions; time is told by the clock that `serve` is given.
"""

from __future__ import annotations

import os
import pty
import select
import tty
from collections.abc import Callable
from pathlib import Path
from random import SystemRandom
from types import TracebackType

from controller.service.board_settings import expected_of, limits_of
from controller.settings.values import Site
from firmware_bridge.faults import HardwareFault
from firmware_bridge.firmware.framer import Framer, silence_us
from firmware_bridge.firmware.node import Node
from firmware_bridge.firmware.station import Station
from firmware_bridge.firmware.ticks import TICKS_PERIOD
from sim.board_memory import BoardMemory
from sim.pins import FakePins
from sim.plant import Plant
from sim.world import World

PSEUDO_TERMINALS = "/dev/pts/"
ROUND_S = 0.01
PHYSICS_S = 0.1
MOST_READ = 256


class EmulatedBoard:
    """One board on a pseudo-terminal: `port` is its name; at `link` a symbolic link shows to it.

    Raises HardwareFault when there is something at `link` that this class has not left there.
    """

    def __init__(self, site: Site, world: World, seed: int, link: Path | None = None) -> None:
        self.plant = Plant(site, world, seed)
        self.pins = FakePins(self.plant, site.rig.tank.high_float_l)
        baud = site.rig.board.baud
        self._silence_s = silence_us(baud) / 1e6
        boot_id = SystemRandom().randrange(1, 1 << 30)
        server_id, front_ends = site.rig.board.server_id, expected_of(site).front_ends_checksum
        limits = limits_of(site)
        memory = BoardMemory(limits.channels)
        self._node = Node(self.pins, limits, boot_id, server_id, front_ends, memory)
        self.pins.dose_id = lambda: self._node.pumps.dose_id
        self._station = Station(self._node, Framer(silence_us(baud)))
        self._node.poll(0)
        self._now_s = 0.0
        self._physics_s = 0.0
        self._link = link
        self._near, self._far = pty.openpty()
        # Kept open, so that the line outlives the programs that come and go at its other end.
        tty.setraw(self._far)
        os.set_blocking(self._near, False)
        self.port = os.ttyname(self._far)
        if link is not None:
            try:
                _link(link, self.port)
            except HardwareFault:
                self._link = None
                self.close()
                raise

    def __enter__(self) -> EmulatedBoard:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, fault: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    @property
    def boot_id(self) -> int:
        """Give the boot id of this start."""
        return self._node.boot_id

    def serve(self, should_stop: Callable[[], bool], clock: Callable[[], float]) -> None:
        """Live as a board does until `should_stop`; `clock` gives monotonic seconds."""
        began_s = clock() - self._now_s
        wait_s = ROUND_S
        while not should_stop():
            ready, _, _ = select.select([self._near], [], [], wait_s)
            data = os.read(self._near, MOST_READ) if ready else b""
            self._pass_time(clock() - began_s)
            # A frame ends when the line has been silent, so a look is due just then.
            wait_s = self._silence_s if data else ROUND_S
            reply = self._round(data)
            if reply:
                self._answer(reply)

    def close(self) -> None:
        """Take the pseudo-terminal and the link away; harmless when done already."""
        if self._link is not None:
            if self._link.is_symlink() and os.readlink(self._link) == self.port:
                self._link.unlink()
            self._link = None
        for end in (self._near, self._far):
            if end >= 0:
                os.close(end)
        self._near = self._far = -1

    def _round(self, data: bytes) -> bytes:
        now_us = int(self._now_s * 1e6) % TICKS_PERIOD
        now_ms = int(self._now_s * 1e3) % TICKS_PERIOD
        if data:
            self._station.arrived(data, len(data), now_us)
        return self._station.turn(now_us, now_ms)

    def _answer(self, reply: bytes) -> None:
        try:
            os.write(self._near, reply)
        except BlockingIOError:
            # Nobody reads at the other end and its buffer is full: bytes on a real line are lost as well.
            return

    def _pass_time(self, now_s: float) -> None:
        """Let motor and plant do what they did since the last round."""
        pins, plant = self.pins, self.plant
        self._now_s = pins.now_s = now_s
        pins.move_what_turned(powered=True)
        dt_s = now_s - self._physics_s
        pins.converting = dt_s >= PHYSICS_S
        if pins.converting:
            self._physics_s = now_s
            plant.valve, plant.motor = pins.valve, pins.motor_running
            plant.advance(dt_s)


def _link(link: Path, port: str) -> None:
    if link.is_symlink():
        there = os.readlink(link)
        # Left by one that was killed; its terminal's name may have come back as ours.
        if there == port or (not link.exists() and there.startswith(PSEUDO_TERMINALS)):
            link.unlink()
    try:
        link.symlink_to(port)
    except FileExistsError as error:
        problem = "there is something of this name already"
        raise HardwareFault(str(link), problem, "name another place, or take it away yourself") from error
    except OSError as error:
        problem = f"no link can be made here ({error.strerror})"
        raise HardwareFault(str(link), problem, "name a place in a folder that may be written") from error
