"""A board on the desk behind its framer: bytes in, reply out, in virtual microseconds."""

from desk import BOOT_ID, arming, desk_limits
from tiny_hal import TinyHal

from firmware_bridge.firmware.framer import Framer, silence_us
from firmware_bridge.firmware.node import Node
from firmware_bridge.firmware.station import Station
from firmware_bridge.firmware.ticks import TICKS_PERIOD

SILENCE_US = silence_us(115200)
ALL_OFF_FRAME = arming(BOOT_ID)
CHARACTER_US = 96


class DeskLine:
    """`node` may be any stand-in that polls and serves. A look at the line happens with every piece."""

    def __init__(self, node=None):
        self.hal = TinyHal()
        self.now_us = TICKS_PERIOD - 1_000_000
        self.node = node or Node(self.hal, desk_limits(), BOOT_ID)
        self.station = Station(self.node, Framer(SILENCE_US))
        if node is None:
            self.node.poll(self.now_us // 1000)
            self.node.serve(ALL_OFF_FRAME, self.now_us // 1000)

    def hear(self, piece: bytes, after_us: int = CHARACTER_US) -> bytes:
        """Let a piece arrive after a pause; the board goes round before it, as its loop does."""
        reply = self.look(after_us)
        self.station.arrived(piece, len(piece), self.now_us % TICKS_PERIOD)
        return reply

    def look(self, after_us: int) -> bytes:
        """Let time pass and the board go round once."""
        self.now_us += after_us
        now_ms = self.now_us // 1000
        return self.station.turn(self.now_us % TICKS_PERIOD, now_ms % TICKS_PERIOD)

    def fall_silent(self) -> bytes:
        """Let t3.5 pass."""
        return self.look(SILENCE_US)
