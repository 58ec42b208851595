"""Turning the rotor back a little after a whole dose, so that no drop hangs. No dose is counted here.

The counts that a rotor stands back are moved forward again, uncounted, at the head of that channel's next
motion (`pumps.py`), so that the sum of a channel's motions is what was counted, whatever happens in between.
A count that cannot be believed leaves the rotor as not turned back: the next dose then lacks those few
counts at most, and never has more than it was asked for.
"""

from firmware_bridge.firmware.limits import Limits

# mypy reads the import below, the board never does: MicroPython has no `typing`.
TYPE_CHECKING = False
if TYPE_CHECKING:
    from firmware_bridge.firmware_protocols import Hal

# A rotor that was stopped at speed has come to rest by then (assumed; no source).
REST_MS = 100


class AntiDrip:
    """`back`: the counts that each channel's rotor stands back. `busy`: one of them rests or turns back."""

    def __init__(self, hal: "Hal", limits: Limits) -> None:
        self._hal = hal
        self._counts = limits.anti_drip
        self.back = [0] * limits.channels
        self.busy = False
        self._turning = False
        self._rest_left_ms = 0
        self._channel = 0
        self._counts_per_s = 0
        self._turned = 0

    def begin(self, channel: int, counts_per_s: int) -> bool:
        """Take a dose that has just reached its count; False when nothing is turned back for it."""
        if self._counts[channel]:
            self.busy = True
            self._rest_left_ms = REST_MS
            self._channel = channel
            self._counts_per_s = counts_per_s
        return self.busy

    def led(self, channel: int, lead: int, turned: int) -> None:
        """Take how far a forward motion has come that began with `lead` counts from further back."""
        self.back[channel] = lead - turned if 0 <= turned < lead else 0

    def elapse(self, ms: int) -> None:
        """Let time pass."""
        if self.busy:
            self._rest_left_ms -= ms

    def proceed(self) -> None:
        """Start turning back once the rotor rests; only for a board on which something may move."""
        if self.busy and not self._turning and self._rest_left_ms <= 0:
            self._turning = True
            self._turned = 0
            self._hal.motor_back(self._channel, self._counts[self._channel], self._counts_per_s)

    def advance(self) -> bool:
        """Take the motor's count and end when it is reached; False when the count cannot be true."""
        if not self._turning:
            return True
        sound = self._take_count()
        if not sound or self._turned >= self._counts[self._channel]:
            self._end()
        return sound

    def halt(self) -> bool:
        """End wherever it has come to, after the motor has been stopped; False as for `advance`.

        One that was broken off counts as not turned back: the pumps' supply may have gone before the command
        came, and then the counts are of a rotor that stood.
        """
        sound = not self._turning or self._take_count()
        if self._turning and self._turned < self._counts[self._channel]:
            self.back[self._channel] = 0
        self._end()
        return sound

    def _take_count(self) -> bool:
        turned = self._hal.motor_count()
        sound = self._turned <= turned <= self._counts[self._channel]
        self._turned = turned
        self.back[self._channel] = turned if sound else 0
        return sound

    def _end(self) -> None:
        self.busy = False
        self._turning = False
