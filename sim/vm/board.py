"""The board in the MicroPython VM, as the simulated rig sees it: pins in, calls out, and a real line.

In lock-step with the rig: the VM's ticks are the rig's, so that a night does not depend on its speed.
"""

from __future__ import annotations

import time
from contextlib import ExitStack

from controller.service.board_settings import limits_of
from controller.settings.values import Site
from firmware_bridge.faults import HardwareFault
from firmware_bridge.firmware.framer import silence_us
from firmware_bridge.firmware.limits import Limits
from firmware_bridge.firmware.ticks import elapsed_ms
from firmware_bridge.link import LinkSilent, Transport
from firmware_bridge.registers import SCALE_LINES
from firmware_bridge.serial_line import SerialLine
from sim.board import BoardEdges
from sim.board_memory import BoardMemory
from sim.pins import FakePins
from sim.pty_line import PtyLine
from sim.vm.place import PACKAGE, VERSION, find_vm
from sim.vm.process import VmGone, VmProcess

# A line that is not paced brings a frame in one piece, so less silence than the 1750 µs of a wire ends it.
SILENCE_US = 300
# What an answer may take in real time beside its bytes: long, so that a busy computer changes no night.
PATIENCE_S = 2.0


class VmBoard:
    """One board in a VM process of its own; a context that must be left. Fits `SimBoard`.

    `fault` says why there is no board any more; the line is silent then and every output off, as on a board
    whose watchdog has bitten.
    """

    def __init__(self, site: Site, line: PtyLine, patience_s: float = PATIENCE_S) -> None:
        self.line = line
        self.fault: str | None = None
        self.exchanges = 0
        self._silence_us = silence_us(line.baud) if line.baud else SILENCE_US
        self._limits = limits_of(site)
        self.memory = BoardMemory(self._limits.channels)
        self._scales_g: list[int] = []
        self._server_id = site.rig.board.server_id
        self._virtual_ms = 0
        self._ticks = 0
        self._pins: FakePins | None = None
        self._state: tuple[int, ...] = (0, 0, 0, 0, 0, 0, 0, 0)
        self._closing = ExitStack()
        with self._closing:
            self._closing.callback(line.close)
            self._process = VmProcess(find_vm(), line.far_end.fileno())
            self._closing.callback(self._process.close)
            line.far_end.close()
            self._serial = SerialLine(line.port, site.rig.board.baud, self._clock, patience_s)
            self._closing.enter_context(self._serial)
            self._closing = self._closing.pop_all()

    def __enter__(self) -> VmBoard:
        return self

    def __exit__(self, *_of_the_fault: object) -> None:
        self.close()

    def close(self) -> None:
        """End the VM and take the line down; a second call does nothing."""
        self._closing.close()

    @property
    def transport(self) -> Transport:
        """Give the host's end of the line: pyserial on the pseudo-terminal."""
        return self

    @property
    def pid(self) -> int:
        """Give the number of the VM's process."""
        return self._process.pid

    @property
    def interpreter(self) -> str:
        """Give what runs the firmware, as it says itself. Raises VmGone."""
        return self._process.ask("interpreter")

    @property
    def boot_id(self) -> int:
        """Give the present boot id."""
        return self._state[0]

    @property
    def dose_id(self) -> int:
        """Give the id under which the last motion ran."""
        return self._state[7]

    @property
    def running(self) -> bool:
        """Tell whether a motion is not over."""
        return self._state[4] != 0

    @property
    def enabled(self) -> bool:
        """Tell whether the firmware holds the enable on."""
        return self._state[6] != 0

    def boot(self, pins: FakePins, boot_id: int, ticks: int) -> None:
        """Start a new VM on these pins: of what the board knew nothing is left but its memory.

        Raises HardwareFault when the first start fails; later ones only leave a `fault`.
        """
        first = self._pins is None
        self._pins = pins
        self._pass_to(ticks)
        self._scales_g = []
        slots = " ".join(slot.hex() or "-" for slot in self.memory.slots)
        limits = _limit_words(self._limits)
        self._ask(f"boot {boot_id} {ticks} {self._server_id} {self._silence_us} {slots} {limits}")
        if first and self.fault is not None:
            remedy = f"install Node 20 or newer, and {PACKAGE}@{VERSION} anew"
            raise HardwareFault("the board in the MicroPython VM", self.fault, remedy)

    def poll(self, ticks: int) -> None:
        """Push what the pins read now, and go once round the firmware."""
        self._pass_to(ticks)
        pins = self._pins
        assert pins is not None
        self._ask(
            f"poll {ticks} {pins.high_float():d} {pins.leak():d} {pins.reset_pressed():d} "
            f"{pins.motor_count()} {pins.read_ph_decimv()} {pins.read_ec_us_cm()} {pins.read_tank_centic()} "
            f"{pins.read_supply_centic()} {pins.read_level_decimm()} {pins.read_flow_pulses()} "
            f"{pins.read_second_ph_decimv()}"
            f"{self._scales_if_changed(pins)}"
        )

    def edges(self) -> BoardEdges:
        """Give what changes at once."""
        state = self._state
        return (
            state[0],
            state[1],
            state[2] != 0,
            state[3] != 0,
            state[4] != 0,
            state[5] != 0,
            state[6] != 0,
        )

    def exchange(self, request: bytes) -> bytes:
        """Send a frame over the real line; take what the firmware has done to the pins before it answered."""
        if self.fault is not None:
            raise LinkSilent(self.fault)
        self.exchanges += 1
        try:
            return self._serial.exchange(request)
        finally:
            self._ask("sync")

    def _scales_if_changed(self, pins: FakePins) -> str:
        scales_g = [pins.read_scale_g(line) for line in range(SCALE_LINES)]
        if scales_g == self._scales_g:
            return ""
        self._scales_g = scales_g
        return "".join(f" {grams}" for grams in scales_g)

    def _clock(self) -> float:
        """Give the time of this line: what really passes, and what the rig has jumped over."""
        return time.monotonic() + self._virtual_ms / 1000

    def _pass_to(self, ticks: int) -> None:
        self._virtual_ms += elapsed_ms(ticks, self._ticks)
        self._ticks = ticks

    def _ask(self, line: str) -> None:
        """Put a line to the VM and do what its firmware did to the pins."""
        pins = self._pins
        assert pins is not None
        if self.fault is not None:
            return
        try:
            words = self._process.ask(line).split()
        except VmGone as gone:
            self.fault = f"the MicroPython VM is gone, {gone}"
            self._state = (*self._state[:4], 0, 0, 0, self._state[7])
            pins.motor_stop()
            pins.set_valve(False)
            pins.set_enable(False)
            return
        self._state = tuple([int(word) for word in words[:8]])
        for call in words[8:]:
            _make(call, pins, self.memory)


def vm_board(site: Site) -> VmBoard:
    """Start a board for this site in the MicroPython VM. Raises VmMissing, a HardwareFault."""
    find_vm()
    return VmBoard(site, PtyLine())


def _make(call: str, pins: FakePins, memory: BoardMemory) -> None:
    kind = call[0]
    if kind == "v":
        pins.set_valve(call[1] == "1")
    elif kind == "e":
        pins.set_enable(call[1] == "1")
    elif kind == "s":
        pins.motor_stop()
    elif kind == "k":
        slot, data = call[1:].split(",")
        memory.save(int(slot), bytes.fromhex(data))
    else:
        channel, count, counts_per_s = [int(number) for number in call[1:].split(",")]
        start = pins.motor_back if kind == "b" else pins.motor_start
        start(channel, count, counts_per_s)


def _limit_words(limits: Limits) -> str:
    rows = (limits.dose_caps, limits.night_caps, limits.max_counts_per_s, limits.anti_drip)
    columns = [",".join(str(number) for number in row) for row in rows]
    times = (limits.valve_cap_ms, limits.valve_night_cap_ms, limits.lease_ms, limits.night_ms)
    return " ".join([*columns, *[str(ms) for ms in times]])
