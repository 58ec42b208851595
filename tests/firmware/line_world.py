"""Board, wire and host's port in virtual time: real firmware behind its framer, a wire that does as told.

Fate of a frame: ok, lost, twice, late (and how much), flipped (and which bit), split (by more than t3.5).
"""

import struct
from collections import deque
from dataclasses import dataclass

from desk import arming, desk_limits
from tiny_hal import TinyHal

from firmware_bridge import registers as reg
from firmware_bridge.firmware.framer import Framer, silence_us
from firmware_bridge.firmware.node import Node
from firmware_bridge.firmware.station import Station
from firmware_bridge.firmware.ticks import TICKS_PERIOD

BAUD = 115200
CHARACTER_US = 96
ROUND_US = 10_000


@dataclass(frozen=True)
class Fate:
    kind: str = "ok"
    late_us: int = 0
    bit: int = 0


OK = Fate()


class LineWorld:
    """What the host's `SerialLine` takes for pyserial's port, with everything behind it."""

    def __init__(self, boot_id=1000):
        self.now_us = 0
        self.timeout = self.write_timeout = 0.0
        self.request_fates = deque()
        self.reply_fates = deque()
        self.inbox = b""
        self.sent = []
        self.made = {}
        self.turned = {}
        self.starts = []
        self._to_board = []
        self._to_host = []
        self._owed = 0
        self.boot(boot_id)

    def boot(self, boot_id):
        """Start the board anew: what was moving stands still, what was known is forgotten."""
        self.hal = TinyHal()
        self.node = Node(self.hal, desk_limits(), boot_id)
        self.station = Station(self.node, Framer(silence_us(BAUD)))
        now_ms = self.now_us // 1000 % TICKS_PERIOD
        self.node.poll(now_ms)
        self.node.serve(arming(boot_id), now_ms)
        self._round_us = self.now_us

    def clock(self):
        return self.now_us / 1e6

    # The port.

    @property
    def in_waiting(self):
        return len(self.inbox)

    def write(self, data):
        self.sent.append(bytes(data))
        fate = self.request_fates.popleft() if self.request_fates else OK
        self._to_board += self._on_its_way(data, fate)

    def read(self, size):
        until_us = self.now_us + int(self.timeout * 1e6) + 1
        while len(self.inbox) < size and self.now_us < until_us:
            self._step(until_us)
        got, self.inbox = self.inbox[:size], self.inbox[size:]
        return got

    def close(self):
        pass

    # Time.

    def pass_time(self, ms):
        until_us = self.now_us + 1000 * ms
        while self.now_us < until_us:
            self._step(until_us)

    def _step(self, until_us):
        """Go to the next moment at which anything happens, and let it happen."""
        due = [when for when, _ in self._to_board + self._to_host if when > self.now_us]
        to_us = min([until_us, self._round_us, *due])
        self._turn_motor(to_us - self.now_us)
        self.now_us = to_us
        came = self._take_due(self._to_board)
        if came:
            self.station.arrived(came, len(came), to_us % TICKS_PERIOD)
            self._round_us = to_us + silence_us(BAUD)
        if came or to_us >= self._round_us:
            self._board_round()
        self.inbox += self._take_due(self._to_host)

    def _board_round(self):
        reply = self.station.turn(self.now_us % TICKS_PERIOD, self.now_us // 1000 % TICKS_PERIOD)
        if self._round_us <= self.now_us:
            self._round_us = self.now_us + ROUND_US
        self._note_starts()
        if reply:
            self._note_image(reply)
            fate = self.reply_fates.popleft() if self.reply_fates else OK
            self._to_host += self._on_its_way(reply, fate)

    def _on_its_way(self, data, fate):
        at_us = self.now_us + CHARACTER_US * len(data)
        if fate.kind == "lost":
            return []
        if fate.kind == "twice":
            return [(at_us, data), (at_us + 5000, data)]
        if fate.kind == "late":
            return [(at_us + fate.late_us, data)]
        if fate.kind == "flipped":
            wrong = bytearray(data)
            wrong[fate.bit // 8 % len(data)] ^= 1 << fate.bit % 8
            return [(at_us, bytes(wrong))]
        if fate.kind == "split":
            half = len(data) // 2
            return [(at_us, data[:half]), (at_us + 2500, data[half:])]
        return [(at_us, data)]

    def _take_due(self, wire):
        came = b"".join(data for when, data in sorted(wire, key=lambda one: one[0]) if when <= self.now_us)
        wire[:] = [one for one in wire if one[0] > self.now_us]
        return came

    # What truly happened, apart from the firmware's own books.

    def _turn_motor(self, us):
        self._owed += us * self.hal.counts_per_s
        counts = self.hal.turn(self._owed // 1_000_000)
        self._owed %= 1_000_000
        dose_id = self.node.pumps.dose_id
        self.turned[dose_id] = self.turned.get(dose_id, 0) + counts

    def _note_starts(self):
        for channel, count, _rate in self.hal.starts:
            self.starts.append((self.node.boot_id, self.node.pumps.dose_id, channel, count))
        self.hal.starts.clear()

    def _note_image(self, reply):
        if reply[1] == 4 and reply[2] >= 2 * reg.SCAN_WORDS:
            fields = struct.unpack_from(reg.SCAN_FORMAT, reply, 3)
            self.made.setdefault((fields[1], fields[2]), []).append(fields)


def lease_of(request):
    """Give the lease counter in a request of function 06 or 16."""
    return int.from_bytes(request[7:9] if request[1] == 16 else request[4:6], "big")
