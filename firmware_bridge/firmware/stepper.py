"""One motor at a time in whole counts: what was given, what has turned, how fast it may turn by now.

No `machine` here: the pulses, their counter and the decoder are handed in (`wiring.py`). A count that was cut
short by a stop is not lost and not made twice: its pulses are the first ones of that channel's next motion
forward. Backwards a count that was begun counts as turned; the rest of its pulses are kept in the same way.
"""

from firmware_bridge.firmware.pin_plan import PULSES_PER_COUNT
from firmware_bridge.registers import MAX_CHANNELS, MAX_NUMBER

# mypy reads the imports below, the board never does: MicroPython has no `typing`.
TYPE_CHECKING = False
if TYPE_CHECKING:
    from firmware_bridge.firmware_protocols import PulseHardware

# Start-stop speed and acceleration of a loaded pump head: cautious figures, common practice, no source.
_START_COUNTS_PER_S = 20
_COUNTS_PER_S2 = 400
_COUNTS_PER_RUNG = 4
_RUNGS = 64


def _isqrt(square: int) -> int:
    root = 0
    while (root + 1) * (root + 1) <= square:
        root += 1
    return root


def ladder() -> list[int]:
    """Give the speed, counts/s, that may be run after each four counts of a motion.

    v = sqrt(v0^2 + 2 a s), constant acceleration, rounded down. Past the last rung every speed may be run.
    """
    v0_squared = _START_COUNTS_PER_S * _START_COUNTS_PER_S
    return [_isqrt(v0_squared + 2 * _COUNTS_PER_S2 * _COUNTS_PER_RUNG * rung) for rung in range(_RUNGS)]


class Stepper:
    """The motion under way or last done."""

    def __init__(self, hardware: "PulseHardware") -> None:
        self._hardware = hardware
        self._spare = [0] * MAX_CHANNELS
        self._speeds = ladder()
        self._paces = [hardware.pace(speed) for speed in self._speeds]
        self._turning = False
        self._lost = False
        self._backwards = False
        self._channel = 0
        self._given = 0
        self._before = 0
        self._pulses = 0
        self._rung = 0
        self._top_speed = 0
        self._top_pace = 0

    def start(self, channel: int, count: int, counts_per_s: int, backwards: bool = False) -> None:
        """Turn one motor by `count` counts, 1 to MOST_COUNTS, at up to `counts_per_s`; others stop first."""
        self.stop()
        hardware = self._hardware
        self._channel = channel
        self._backwards = backwards
        # Backwards the pulses of a count begun are turned on top.
        self._before = -self._spare[channel] if backwards else self._spare[channel]
        self._pulses = self._before
        self._given = count * PULSES_PER_COUNT
        self._rung = 0
        self._top_speed = counts_per_s
        self._top_pace = hardware.pace(counts_per_s)
        self._turning = True
        self._lost = False
        hardware.select(channel, backwards)
        first = self._top_pace if counts_per_s <= self._speeds[0] else self._paces[0]
        hardware.begin(self._given - self._before, first)

    def count(self) -> int:
        """Give the counts turned since the start; on the way let the motor run faster.

        -1: the counter does not answer, or did not when the motor was stopped.
        """
        if self._lost:
            return -1
        if self._turning:
            edges = self._hardware.edges()
            if edges < 0:
                return -1
            self._pulses = self._before + edges
            self._hasten(edges // (PULSES_PER_COUNT * _COUNTS_PER_RUNG))
        return max(self._pulses, 0) // PULSES_PER_COUNT

    def stop(self) -> None:
        """Stop at once and take the last pulse into account."""
        self._hardware.cease()
        if self._turning:
            self._lost = self.count() < 0
            self._turning = False
            if self._backwards:
                # Whole counts from here on, as if turned: what is missing has been turned forward already.
                spare = -self._pulses % PULSES_PER_COUNT
                self._pulses += spare
                self._spare[self._channel] = spare
            else:
                self._spare[self._channel] = self._pulses % PULSES_PER_COUNT

    def _hasten(self, rung: int) -> None:
        if rung <= self._rung:
            return
        self._rung = rung
        if rung >= _RUNGS or self._speeds[rung] >= self._top_speed:
            self._hardware.change_pace(self._top_pace)
            self._rung = MAX_NUMBER
        else:
            self._hardware.change_pace(self._paces[rung])
