"""The board's readings, as last sampled. A reading that does not fit its register is no reading."""

from firmware_bridge.registers import MAX_NUMBER, NO_READING, SCALE_LINES

# mypy reads the import below, the board never does: MicroPython has no `typing`.
TYPE_CHECKING = False
if TYPE_CHECKING:
    from firmware_bridge.firmware_protocols import Hal


def _reading(value: int) -> int:
    return value if -32768 < value < 32768 else NO_READING


class Sensors:
    """Readings in register units; `scales_g` has one entry for each data line."""

    def __init__(self, hal: "Hal") -> None:
        self._hal = hal
        self.scales_g = [NO_READING] * SCALE_LINES
        self.ph_decimv = NO_READING
        self.second_ph_decimv = NO_READING
        self.ec_us_cm = NO_READING
        self.tank_centic = NO_READING
        self.supply_centic = NO_READING
        self.level_decimm = NO_READING
        self.flow_pulses = 0

    def sample(self) -> bool:
        """Take every reading anew; False when the pulse counter cannot be read, which no wire can explain."""
        hal = self._hal
        self.ph_decimv = _reading(hal.read_ph_decimv())
        self.second_ph_decimv = _reading(hal.read_second_ph_decimv())
        self.ec_us_cm = _reading(hal.read_ec_us_cm())
        self.tank_centic = _reading(hal.read_tank_centic())
        self.supply_centic = _reading(hal.read_supply_centic())
        self.level_decimm = _reading(hal.read_level_decimm())
        for line in range(SCALE_LINES):
            self.scales_g[line] = _reading(hal.read_scale_g(line))
        pulses = hal.read_flow_pulses()
        if pulses < 0:
            return False
        # The mask alone would allocate in every round: it is no small integer.
        self.flow_pulses = pulses if pulses <= MAX_NUMBER else pulses & 0xFFFFFFFF
        return True
