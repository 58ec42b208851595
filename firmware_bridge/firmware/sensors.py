"""The board's readings, as last sampled. A reading that does not fit its register is no reading."""

from firmware_bridge.registers import MAX_CHANNELS, MAX_NUMBER, NO_READING

# mypy reads the import below, the board never does: MicroPython has no `typing`.
TYPE_CHECKING = False
if TYPE_CHECKING:
    from firmware_bridge.firmware_protocols import Hal

# A bottle empties slowly: one scale after the other is enough.
_SCALE_EVERY_MS = 250


def _reading(value: int) -> int:
    return value if -32768 < value < 32768 else NO_READING


class Sensors:
    """Readings in register units; `scales_g` has one entry for each channel that a map can have."""

    def __init__(self, hal: "Hal", channels: int) -> None:
        self._hal = hal
        self._channels = channels
        self._next_scale = 0
        self._scale_left_ms = 0
        self.scales_g = [NO_READING] * MAX_CHANNELS
        self.ph_decimv = NO_READING
        self.ec_us_cm = NO_READING
        self.tank_centic = NO_READING
        self.supply_centic = NO_READING
        self.level_decimm = NO_READING
        self.flow_pulses = 0

    def sample(self) -> bool:
        """Take every reading anew; False when the pulse counter cannot be read, which no wire can explain."""
        hal = self._hal
        self.ph_decimv = _reading(hal.read_ph_decimv())
        self.ec_us_cm = _reading(hal.read_ec_us_cm())
        self.tank_centic = _reading(hal.read_tank_centic())
        self.supply_centic = _reading(hal.read_supply_centic())
        self.level_decimm = _reading(hal.read_level_decimm())
        pulses = hal.read_flow_pulses()
        if pulses < 0:
            return False
        # The mask alone would allocate in every round: it is no small integer.
        self.flow_pulses = pulses if pulses <= MAX_NUMBER else pulses & 0xFFFFFFFF
        return True

    def elapse(self, ms: int) -> None:
        """Let time pass; now and then the next scale is read."""
        self._scale_left_ms -= ms
        if self._scale_left_ms > 0 or self._channels == 0:
            return
        self._scale_left_ms = _SCALE_EVERY_MS
        self.scales_g[self._next_scale] = _reading(self._hal.read_scale_g(self._next_scale))
        self._next_scale = (self._next_scale + 1) % self._channels
