"""Counted motion: "dose id X: reach count N", one motor at a time. No lease, no trips, no frames here.

A night, for the night caps, opens with the first motion on the board and closes `night_ms` after the last
one, by the board's own ticks: a busy night goes on. Nothing that the host can send opens a new one.
"""

from firmware_bridge.firmware.limits import Limits
from firmware_bridge.registers import (
    MAX_NUMBER,
    REFUSED_CHANNEL,
    REFUSED_DOSE_CAP,
    REFUSED_DOSE_CHANGED,
    REFUSED_DOSE_ID,
    REFUSED_NIGHT_CAP,
    REFUSED_NONE,
    REFUSED_SECOND_MOTOR,
    REFUSED_VALUE,
)

# mypy reads the import below, the board never does: MicroPython has no `typing`.
TYPE_CHECKING = False
if TYPE_CHECKING:
    from firmware_bridge.firmware_protocols import Hal


class Pumps:
    """The last motion and the counts of every channel.

    `sound` turns False when the hardware's count ran backwards or past what it was given.
    """

    def __init__(self, hal: "Hal", limits: Limits) -> None:
        self._hal = hal
        self._limits = limits
        self.channel = 0
        self.dose_id = 0
        self.target = 0
        self.done = 0
        self.running = False
        self.sound = True
        self.last_ids = [0] * limits.channels
        self.dones = [0] * limits.channels
        self.since_boot = [0] * limits.channels
        self.this_night = [0] * limits.channels
        self._spoiled = False
        self._in_night = False
        self._night_left_ms = 0
        self._counts_per_s = 0
        self._done_before_start = 0

    def refusal(self, channel: int, dose_id: int, target: int, counts_per_s: int) -> int:
        """Say why this motion may not be asked for; moves nothing."""
        limits = self._limits
        if channel >= limits.channels:
            return REFUSED_CHANNEL
        if not (0 < dose_id <= MAX_NUMBER and 0 < target <= MAX_NUMBER):
            return REFUSED_VALUE
        if not 0 < counts_per_s <= limits.max_counts_per_s[channel]:
            return REFUSED_VALUE
        if dose_id < self.dose_id:
            return REFUSED_DOSE_ID
        left = target
        if dose_id == self.dose_id:
            if channel != self.channel or target != self.target:
                return REFUSED_DOSE_CHANGED
            left = target - self.done
        elif self.running:
            return REFUSED_SECOND_MOTOR
        if target > limits.dose_caps[channel]:
            return REFUSED_DOSE_CAP
        if self.this_night[channel] + left > limits.night_caps[channel]:
            return REFUSED_NIGHT_CAP
        return REFUSED_NONE

    def run(self, channel: int, dose_id: int, target: int, counts_per_s: int) -> None:
        """Carry on to the target of a motion that `refusal` let pass; moves nothing once it is reached."""
        if dose_id != self.dose_id:
            self.channel = channel
            self.dose_id = dose_id
            self.target = target
            self.done = 0
            self.last_ids[channel] = dose_id
            self.dones[channel] = 0
            self._spoiled = False
        elif self.running and counts_per_s != self._counts_per_s:
            self.halt()
        if self.running or self._spoiled or self.done >= self.target:
            return
        self._in_night = True
        self._night_left_ms = self._limits.night_ms
        self._counts_per_s = counts_per_s
        self._done_before_start = self.done
        self.running = True
        self._hal.motor_start(channel, self.target - self.done, counts_per_s)

    def halt(self) -> None:
        """Stop the motor and take its last count; the motion may be carried on later."""
        self._hal.motor_stop()
        if self.running:
            self.running = False
            self._take_count()

    def advance(self) -> None:
        """Take the motor's count; end the motion when it is reached or the count cannot be true."""
        if self.running:
            self._take_count()
            if self.done >= self.target or not self.sound:
                self.running = False
                self._hal.motor_stop()

    def elapse(self, ms: int) -> None:
        """Let the night grow older; it ends only while no motor turns."""
        if not self._in_night:
            return
        self._night_left_ms -= ms
        if self._night_left_ms <= 0 and not self.running:
            self._in_night = False
            for channel in range(len(self.this_night)):
                self.this_night[channel] = 0

    def _take_count(self) -> None:
        turned = self._done_before_start + self._hal.motor_count()
        more = turned - self.done
        if more < 0 or turned > self.target:
            self.sound = False
            # How far it really came is not known, so that this dose must never be carried on.
            self._spoiled = True
        if more > 0:
            self.done = turned
            self.dones[self.channel] = turned
            self.since_boot[self.channel] += more
            self.this_night[self.channel] += more
