"""A board on the desk: the real firmware on the fake hal, joined to the host's link, in virtual time."""

import struct

from tiny_hal import TinyHal

from controller.run.image import BoardImage
from controller.run.request import ALL_OFF, DoseCommand, FillCommand, Request
from firmware_bridge import registers as reg
from firmware_bridge.board import BoardLink
from firmware_bridge.firmware.guard import BUTTON_STILL_MS
from firmware_bridge.firmware.limits import Limits
from firmware_bridge.firmware.modbus import framed
from firmware_bridge.firmware.node import Node
from firmware_bridge.firmware.ticks import TICKS_PERIOD
from sim.board_memory import BoardMemory
from sim.memory_line import MemoryLine

BOOT_ID = 0x1234567
POLL_MS = 10


def desk_limits(**changes) -> Limits:
    """Give three channels: doses to 1000 counts, nights to 1500, 500 counts/s, valve 60 s, 600 s a night."""
    values = {
        "dose_caps": (1000, 1000, 1000),
        "night_caps": (1500, 1500, 1500),
        "max_counts_per_s": (500, 500, 500),
        "valve_cap_ms": 60_000,
        "valve_night_cap_ms": 600_000,
    }
    return Limits(**{**values, **changes})


class Desk:
    """`armed` False: nothing but power has been given to it yet."""

    def __init__(
        self, limits: Limits | None = None, boot_id: int = BOOT_ID, now_ms: int = 0, armed: bool = True
    ):
        self.hal = TinyHal()
        self.now_ms = now_ms
        self.limits = limits or desk_limits()
        self.memory = BoardMemory(self.limits.channels)
        self.node = Node(self.hal, self.limits, boot_id, storage=self.memory)
        self.pipe = MemoryLine(lambda frame: self.node.serve(frame, self.now_ms % TICKS_PERIOD))
        self.link = BoardLink(self.pipe, 1)
        self._owed_millicounts = 0
        self.node.poll(self.now_ms % TICKS_PERIOD)
        if armed:
            self.link.write(ALL_OFF)

    def restart(self, boot_id: int = BOOT_ID + 1) -> None:
        """Take the power away for a moment: motor and pins are off at once, only the memory is left."""
        self.hal.motor_stop()
        self.hal.set_valve(False)
        self.hal.set_enable(False)
        self.hal.turned = 0
        self.node = Node(self.hal, self.limits, boot_id, storage=self.memory)
        self.node.poll(self.now_ms % TICKS_PERIOD)

    def run(self, ms: int) -> None:
        """Let time pass with nobody talking: the motor turns, the board polls."""
        for _ in range(ms // POLL_MS):
            self.now_ms += POLL_MS
            self._owed_millicounts += POLL_MS * self.hal.counts_per_s
            self.hal.turn(self._owed_millicounts // 1000)
            self._owed_millicounts %= 1000
            self.node.poll(self.now_ms % TICKS_PERIOD)

    def run_talking(self, ms: int, outputs: Request) -> None:
        """Let time pass while the host writes the same wish every 50 ms."""
        for _ in range(ms // 50):
            self.link.write(outputs)
            self.run(50)

    def image(self) -> BoardImage:
        image = self.link.read()
        assert image is not None
        return image

    def press_reset(self) -> None:
        """Let the button be up for a while, then down for a while, then up."""
        for down in (False, True, False):
            self.hal.reset = down
            self.run(BUTTON_STILL_MS + POLL_MS)

    def refusal(self) -> int:
        return self.node.refusal

    @property
    def all_off(self) -> bool:
        return not (self.hal.valve or self.hal.enable or self.hal.turning)


def dosing(dose_id=1, target=100, channel=0, rate=100, boot_id=BOOT_ID, **others) -> Request:
    return Request(dose=DoseCommand(channel, dose_id, target, rate, boot_id), **others)


def filling(open_id=1, max_ms=10_000, boot_id=BOOT_ID, **others) -> Request:
    return Request(fill=FillCommand(open_id, max_ms, boot_id), **others)


STIRRING = Request(stir=True)


def arming(boot_id, lease=1) -> bytes:
    """Give the all-off command that arms a board which has just started."""
    words = struct.pack(reg.COMMAND_FORMAT, lease, boot_id, 0, 0, 0, 0, 0, 0, 0)
    head = bytes((1, 16, 0, 0, 0, reg.COMMAND_WORDS, 2 * reg.COMMAND_WORDS))
    return framed(head + words)
