"""Two pH modules on one converter pin, by turns: whose turn it is, and what each gave last. No pins here.

A switch that is stuck shows one electrode twice, and both would agree whatever the other one says. No program
can tell that from two sound electrodes: it is proved at commissioning by lifting one electrode out.
"""

from firmware_bridge.firmware.ticks import ticks_diff
from firmware_bridge.registers import NO_READING

# mypy reads the import below, the board never does: MicroPython has no `typing`.
TYPE_CHECKING = False
if TYPE_CHECKING:
    from firmware_bridge.firmware_protocols import OutputLine

# The converter's input filter, 10 kilohm and 100 nF, comes to a 12-bit step in 9 ms (9 time constants); the
# module behind the switch is loaded anew as well. Assumed with room to spare.
SETTLE_MS = 20


class PhSwitch:
    """`two` says that a second module is fitted; without one the switch never moves."""

    def __init__(self, select: "OutputLine") -> None:
        self._select = select
        self._on_second = False
        self._since_ms = 0
        self._moved = False
        self.two = False
        self.first_decimv = NO_READING
        self.second_decimv = NO_READING

    def is_settled(self, now_ms: int) -> bool:
        """Say whether the converter may be looked at; allocates nothing."""
        return not self._moved or not 0 <= ticks_diff(now_ms, self._since_ms) < SETTLE_MS

    def take(self, decimv: int, now_ms: int) -> None:
        """Take the reading of the module that is selected, and select the other one."""
        if self._on_second:
            self.second_decimv = decimv
        else:
            self.first_decimv = decimv
        if self.two:
            self._on_second = not self._on_second
            self._select.value(1 if self._on_second else 0)
            self._since_ms = now_ms
            self._moved = True
