"""What of the board outlives a restart: latched trips, ids, motions, what stands back, what has moved lately.

Only what is kept and when it is out of date lives here; slots and CRC are `two_slots.py`. A motion or an
opening is kept before it begins, charged whole to the night, and again when it is over, with what it was: a
power cut in between leaves too much charged, never too little. A rotor that stands back is noted as such only
while it rests: of one that was at work when the power went nobody knows, and it counts as not turned back.
"""

import struct

from firmware_bridge.firmware.two_slots import TwoSlots

# mypy reads the imports below, the board never does: MicroPython has no `typing`.
TYPE_CHECKING = False
if TYPE_CHECKING:
    from firmware_bridge.firmware.guard import Guard
    from firmware_bridge.firmware.night import Night
    from firmware_bridge.firmware.pumps import Pumps
    from firmware_bridge.firmware.valve import Valve
    from firmware_bridge.firmware_protocols import Storage

# Raise it with every change of the layout: a record of another one counts as lost.
_LAYOUT = 2
# Its two slots as files.
RECORD_FILES = ("record_a.bin", "record_b.bin")
# What a write may take: so much of the lease must be left, or it would end too late.
LONGEST_WRITE_MS = 450
# Layout, channels, parts of the night, present part, ms left of it, trips, first trip, open id; then the last
# motion: whether its count is open to doubt, channel, dose id, target, done.
_HEAD_FORMAT = ">BBBBIHBIBBIII"
# Last dose id, its counts, and the counts that the rotor stands back, one entry a channel.
_CHANNEL_FORMAT = ">IIB"
_CHANNEL_BYTES = 9
_NUMBER_FORMAT = ">I"


def blank(channels: int, parts: int) -> bytes:
    """Give the record of a board that has never moved anything and stands under no trip."""
    head = struct.pack(_HEAD_FORMAT, _LAYOUT, channels, parts, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0)
    return head + bytes(channels * _CHANNEL_BYTES + parts * (channels + 1) * 4)


class Kept:
    """The record of one board. `storage` None: a bench that keeps nothing and has lost nothing."""

    def __init__(
        self, storage: "Storage | None", guard: "Guard", pumps: "Pumps", valve: "Valve", night: "Night"
    ) -> None:
        self._slots = None if storage is None else TwoSlots(storage)
        self._guard = guard
        self._pumps = pumps
        self._valve = valve
        self._night = night
        self._trips = 0
        self._first_trip = 0
        self._running = False
        self._open = False

    def is_due(self, enabled: bool) -> bool:
        """Say whether something is not written yet and a write would delay nothing; allocates nothing."""
        guard, running, is_open = self._guard, self._pumps.running, self._valve.is_open
        if running or is_open or (enabled and guard.lease_left_ms <= LONGEST_WRITE_MS):
            return False
        return (
            guard.latches() != self._trips
            or (guard.latched() and guard.first_trip != self._first_trip)
            or running != self._running
            or is_open != self._open
        )

    def write(self) -> bool:
        """Write what is now; False when the storage did not take it. Nothing may move meanwhile."""
        guard = self._guard
        self._trips = guard.latches()
        self._first_trip = guard.first_trip
        self._running = self._pumps.running
        self._open = self._valve.is_open
        return self._slots is None or self._slots.save(self._content())

    def recall(self) -> bool:
        """Take over what was written before the restart; False when that is lost."""
        if self._slots is None:
            return True
        content = self._slots.load()
        size = struct.calcsize(_HEAD_FORMAT)
        if len(content) < size or content[0] != _LAYOUT:
            return False
        head = struct.unpack(_HEAD_FORMAT, content[:size])
        _, channels, parts, present, left_ms, trips, first_trip, open_id = head[:8]
        night = self._night
        rows = channels + 1
        if parts != len(night.parts) or len(content) != size + channels * _CHANNEL_BYTES + parts * rows * 4:
            return False
        self._guard.recall(trips, first_trip)
        self._valve.recall(open_id)
        self._pumps.recall(*head[8:])
        shared = min(channels, len(self._pumps.last_ids))
        for channel in range(shared):
            last_id, done, back = struct.unpack_from(
                _CHANNEL_FORMAT, content, size + _CHANNEL_BYTES * channel
            )
            self._pumps.last_ids[channel] = last_id
            self._pumps.dones[channel] = done
            self._pumps.anti_drip.back[channel] = back
        self._recall_night(content, size + channels * _CHANNEL_BYTES, rows, shared)
        night.present = present % parts
        night.left_ms = min(left_ms, night.part_ms) or night.part_ms
        self._trips = trips
        self._first_trip = self._guard.first_trip
        return True

    def _recall_night(self, content: bytes, at: int, rows: int, shared: int) -> None:
        night = self._night
        for part in night.parts:
            for row in range(rows):
                (amount,) = struct.unpack_from(_NUMBER_FORMAT, content, at)
                at += 4
                if row < shared:
                    part[row] = amount
                elif row == rows - 1:
                    part[len(part) - 1] = amount
        night.recount()

    def _content(self) -> bytes:
        guard, pumps, valve, night = self._guard, self._pumps, self._valve, self._night
        trips = guard.latches()
        first_trip = guard.first_trip if trips >> max(0, guard.first_trip - 1) & 1 else 0
        doubt = 1 if pumps.running or pumps.spoiled else 0
        data = struct.pack(
            _HEAD_FORMAT,
            _LAYOUT,
            len(pumps.last_ids),
            len(night.parts),
            night.present,
            max(0, night.left_ms),
            trips,
            first_trip,
            valve.open_id,
            doubt,
            pumps.channel,
            pumps.dose_id,
            pumps.target,
            pumps.done,
        )
        for channel in range(len(pumps.last_ids)):
            at_work = pumps.running and channel == pumps.channel
            back = 0 if at_work else pumps.anti_drip.back[channel]
            data += struct.pack(_CHANNEL_FORMAT, pumps.last_ids[channel], pumps.dones[channel], back)
        for number in range(len(night.parts)):
            for row in range(len(night.total)):
                amount = night.parts[number][row]
                if number == night.present:
                    amount += self._still_to_come(row)
                data += struct.pack(_NUMBER_FORMAT, amount)
        return data

    def _still_to_come(self, row: int) -> int:
        """Give what a motion or an opening under way may still move."""
        pumps = self._pumps
        if row == len(self._night.total) - 1:
            return self._valve.left_ms if self._valve.is_open else 0
        return pumps.target - pumps.done if pumps.running and row == pumps.channel else 0
