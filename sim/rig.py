"""The simulated rig: the plant, the real firmware on fake pins, and the panel, behind the controller's port.

The controller cannot tell it from a real one: it reads images and writes requests, as real Modbus frames to
the firmware's own code, wherever a board lets that run (see `board.py`). Time is virtual: `advance` runs
physics and firmware forward and stops early when anything discrete changes. Between two scans it repeats the
lease renewal that a live host would send.
"""

from __future__ import annotations

from random import Random
from typing import TYPE_CHECKING

from controller.run.image import Image
from controller.run.request import Request
from controller.settings.values import Site
from firmware_bridge.board import BoardLink
from firmware_bridge.firmware.ticks import TICKS_PERIOD
from sim.board import SimBoard
from sim.board_in_process import InProcessBoard
from sim.faults import FaultPlan
from sim.noisy_line import NoisyLine
from sim.panel import SimPanel
from sim.pins import FakePins
from sim.plant import Plant
from sim.relays import Relays
from sim.world import World

if TYPE_CHECKING:
    from sim.gpio_wall import GpioWall

SILENCE_S = 2.0
BEAT_S = 1.0
FILLING_BEAT_S = 0.25
QUIET_BEAT_S = 60.0
AGAIN_S = 0.05
"""A live host's next scan: so soon it tries again to renew a lease that did not get through, and so soon the
rig looks again while a rotor rests before it is turned back."""

Edges = tuple[object, ...]


class SimRig:
    """One rig in virtual time, from `now_s` = 0. Same site, world and seed: the same rig.

    `board` None: the firmware runs in this process. Whoever made a board closes it. A `wall` that is put in
    takes the panel through real pins; without one the panel is read and driven directly.
    """

    longest_silence_s = SILENCE_S

    def __init__(
        self,
        site: Site,
        world: World,
        seed: int,
        faults: FaultPlan | None = None,
        board: SimBoard | None = None,
    ) -> None:
        self.site = site
        self._random = Random(seed)
        self.plant = Plant(site, world, seed)
        self.pins = FakePins(self.plant, site.rig.tank.high_float_l)
        self.board = board or InProcessBoard(site)
        self.pins.dose_id = lambda: self.board.dose_id
        self.now_s = 0.0
        self.silent_s = 0.0
        self.cut = False
        self.unrenewed = False
        self.targets: dict[int, int] = {}
        self.panel = SimPanel()
        self.relays = Relays()
        self.wall: GpioWall | None = None
        self._faults = faults or FaultPlan(())
        self._boot()
        self.line = NoisyLine(self.board.transport, seed)
        self._link = BoardLink(self.line, site.rig.board.server_id)
        self._faults.strike(self, 0.0)
        self.board.poll(0)
        self._seen = self._edges()

    @property
    def boot_id(self) -> int:
        """Give the board's present boot id."""
        return self.board.boot_id

    @property
    def contacts(self) -> Request:
        """Give what the relays truly do, fed or not."""
        return self.relays.contacts(self.panel.driven)

    def restart_board(self) -> None:
        """Take the board's supply away for a moment: outputs drop, counts are forgotten, a new boot id."""
        self.pins.motor_stop()
        self.pins.forget_pulses()
        self._boot()

    def read(self) -> Image:
        """Take one image, as the scan does."""
        self.pins.converting = True
        self.board.poll(self._ticks())
        self.pins.converting = False
        tank = self.site.rig.tank
        volume_l = self.plant.water_l
        if self.wall is None:
            panel = self.panel.image(volume_l, tank.second_high_float_l, tank.low_float_l)
        else:
            panel = self.wall.read(self.panel, volume_l, tank)
        return Image(None if self.cut else self._link.read(), panel)

    def write(self, outputs: Request) -> None:
        """Drive every output, as the scan does."""
        if outputs.dose is not None:
            self.targets[outputs.dose.dose_id] = outputs.dose.target_count
        if not self.cut and self._link.write(outputs):
            self.silent_s = 0.0
        self.panel.driven = outputs if self.wall is None else self.wall.drive(outputs)
        self._seen = self._edges()

    def advance(self, to_s: float) -> float:
        """Run to `to_s`, or to the first moment at which something discrete has changed; give that moment."""
        while self.now_s < to_s:
            self._faults.strike(self, self.now_s)
            if self._edges() != self._seen:
                break
            self._step(min(to_s, self._next_s()))
            if self._edges() != self._seen:
                break
        return self.now_s

    def _next_s(self) -> float:
        """Give the next moment at which physics or firmware must look."""
        pins = self.pins
        beat_s = QUIET_BEAT_S
        if self.unrenewed or (self.board.running and not pins.motor_running):
            beat_s = AGAIN_S
        elif pins.valve or self.plant.filling:
            beat_s = FILLING_BEAT_S
        elif pins.enable or pins.motor_running or self.board.enabled:
            beat_s = BEAT_S
        next_s = self.now_s + beat_s
        for moment_s in (pins.motor.ends_s(), self._faults.next_s(self.now_s)):
            if moment_s is not None and self.now_s < moment_s < next_s:
                next_s = moment_s
        return next_s

    def _step(self, to_s: float) -> None:
        dt_s = to_s - self.now_s
        pins, driven, powered = self.pins, self.contacts, self.panel.estop_ok
        live = powered and pins.enable
        self.plant.stir = live and driven.stir
        self.plant.air = live and driven.air
        self.plant.agitators = driven.agitators if live else frozenset()
        self.plant.drain = live and driven.drain
        self.plant.valve = powered and pins.valve
        self.plant.motor = pins.motor_running
        self.now_s = pins.now_s = to_s
        pins.move_what_turned(powered)
        self.plant.advance(dt_s)
        self.silent_s += dt_s
        self.board.poll(self._ticks())
        something_on = self.board.enabled or pins.valve or pins.motor_running
        self.unrenewed = False
        if not self.cut and something_on:
            if self._link.renew():
                self.silent_s = 0.0
            else:
                self.unrenewed = self.silent_s < SILENCE_S

    def _edges(self) -> Edges:
        """Give everything discrete that a live host would see change within a scan."""
        tank, panel = self.site.rig.tank, self.panel
        volume_l = self.plant.water_l
        return (
            self.board.edges(),
            self.cut,
            panel.selector,
            panel.button,
            panel.estop_ok,
            volume_l < tank.low_float_l,
            volume_l >= tank.second_high_float_l,
            panel.high_float_stuck,
            panel.low_float_stuck,
        )

    def _boot(self) -> None:
        pins = self.pins
        pins.set_valve(False)
        pins.set_enable(False)
        self.board.boot(pins, self._random.randrange(1, 1 << 30), self._ticks())

    def _ticks(self) -> int:
        return int(self.now_s * 1000 + 0.5) % TICKS_PERIOD
