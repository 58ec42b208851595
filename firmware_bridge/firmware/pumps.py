"""Counted motion: "dose id X: reach count N", one motor at a time. No lease, no trips, no frames here.

What counts for the night caps is what `night.py` remembers. After a dose has reached its count the rotor may
be turned back a little (`anti_drip.py`); the motion runs until that is over.
"""

from firmware_bridge.firmware.anti_drip import AntiDrip
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
    from firmware_bridge.firmware.night import Night
    from firmware_bridge.firmware_protocols import Hal


class Pumps:
    """The last motion and the counts of every channel.

    `sound` turns False when the hardware's count cannot be read, ran backwards or past what it was given.
    `spoiled`: how far the last motion really came is not known, so that it must never be carried on; what it
    may have moved is charged to the night.
    """

    def __init__(self, hal: "Hal", limits: Limits, night: "Night") -> None:
        self._hal = hal
        self._limits = limits
        self._night = night
        self.channel = 0
        self.dose_id = 0
        self.target = 0
        self.done = 0
        self.running = False
        self.sound = True
        self.last_ids = [0] * limits.channels
        self.dones = [0] * limits.channels
        self.since_boot = [0] * limits.channels
        self.spoiled = False
        self.anti_drip = AntiDrip(hal, limits)
        self._counts_per_s = 0
        self._done_before_start = 0
        self._lead = 0
        self._turned = 0

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
            # A spoiled one is charged already and moves nothing more.
            left = 0 if self.spoiled else target - self.done
        elif self.running:
            return REFUSED_SECOND_MOTOR
        if target > limits.dose_caps[channel]:
            return REFUSED_DOSE_CAP
        if self._night.total[channel] + left > limits.night_caps[channel]:
            return REFUSED_NIGHT_CAP
        return REFUSED_NONE

    def take(self, channel: int, dose_id: int, target: int, counts_per_s: int) -> bool:
        """Take a motion that `refusal` let pass; True when there is something left of it to `begin`.

        From here on it counts as running.
        """
        if dose_id != self.dose_id:
            self.channel = channel
            self.dose_id = dose_id
            self.target = target
            self.done = 0
            self.last_ids[channel] = dose_id
            self.dones[channel] = 0
            self.spoiled = False
        elif self.running and counts_per_s != self._counts_per_s and not self.anti_drip.busy:
            self.halt()
        if self.running or self.spoiled or self.done >= self.target:
            return False
        self._counts_per_s = counts_per_s
        self.running = True
        return True

    def begin(self) -> None:
        """Let the motor turn by what is missing, and first, uncounted, by what its rotor stands back."""
        self._done_before_start = self.done
        self._lead = self.anti_drip.back[self.channel]
        self._turned = 0
        self._hal.motor_start(self.channel, self._lead + self.target - self.done, self._counts_per_s)

    def forgo(self) -> None:
        """Give a motion up that was taken and has not begun."""
        self.running = False

    def recall(self, doubt: int, channel: int, dose_id: int, target: int, done: int) -> None:
        """Take over the last motion from before a restart."""
        self.spoiled = doubt != 0
        self.channel = channel
        self.dose_id = dose_id
        self.target = target
        self.done = done

    def halt(self) -> None:
        """Stop the motor and take its last count; the motion may be carried on later."""
        self._hal.motor_stop()
        if self.running:
            self.running = False
            if not self.anti_drip.busy:
                self._take_count()
            elif not self.anti_drip.halt():
                self.sound = False

    def elapse(self, ms: int) -> None:
        """Let time pass."""
        self.anti_drip.elapse(ms)

    def advance(self) -> None:
        """Take the motor's count; end the motion when it is reached or the count cannot be true."""
        if not self.running:
            return
        if self.anti_drip.busy:
            self._advance_back()
            return
        self._take_count()
        if not self.sound:
            self._end()
        elif self.done >= self.target:
            self._hal.motor_stop()
            if not self.anti_drip.begin(self.channel, self._counts_per_s):
                self._end()

    def proceed(self) -> None:
        """Turn the rotor back when that is due; only for a board on which something may move."""
        if self.running:
            self.anti_drip.proceed()

    def _advance_back(self) -> None:
        if not self.anti_drip.advance():
            self.sound = False
        if not self.anti_drip.busy:
            self._end()

    def _end(self) -> None:
        self.running = False
        self._hal.motor_stop()

    def _take_count(self) -> None:
        count = self._hal.motor_count()
        self.anti_drip.led(self.channel, self._lead, count)
        turned = self._done_before_start + count - self._lead
        if count < self._turned or turned > self.target:
            self._doubt()
        self._turned = count
        more = turned - self.done
        if more > 0:
            self.done = turned
            self.dones[self.channel] = turned
            self.since_boot[self.channel] += more
            self._night.add(self.channel, more)

    def _doubt(self) -> None:
        self.sound = False
        self.spoiled = True
        if self.done < self.target:
            self._night.add(self.channel, self.target - self.done)
