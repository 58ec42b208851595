"""The fill valve: every opening has an id of its own and an end of its own. No pins, no trips here."""

from firmware_bridge.registers import (
    MAX_NUMBER,
    REFUSED_NONE,
    REFUSED_OPEN_CHANGED,
    REFUSED_OPEN_ID,
    REFUSED_VALUE,
    REFUSED_VALVE_NIGHT,
    REFUSED_VALVE_TIME,
)

# mypy reads the imports below, the board never does: MicroPython has no `typing`.
TYPE_CHECKING = False
if TYPE_CHECKING:
    from firmware_bridge.firmware.limits import Limits
    from firmware_bridge.firmware.night import Night


class Valve:
    """The last opening. `is_open` is what the pin must show; the night's last row is its open time, ms."""

    def __init__(self, limits: "Limits", night: "Night") -> None:
        self._limits = limits
        self._night = night
        self._row = len(night.total) - 1
        self.left_ms = 0
        self.open_id = 0
        self.max_ms = 0
        self.is_open = False

    def refusal(self, open_id: int, max_ms: int) -> int:
        """Say why this opening may not be asked for; moves nothing."""
        if not (0 < open_id <= MAX_NUMBER and max_ms > 0):
            return REFUSED_VALUE
        if max_ms > self._limits.valve_cap_ms:
            return REFUSED_VALVE_TIME
        # An id from before a restart has had its opening; how long that was asked for is forgotten.
        if open_id < self.open_id or (open_id == self.open_id and self.max_ms == 0):
            return REFUSED_OPEN_ID
        if open_id == self.open_id:
            return REFUSED_NONE if max_ms == self.max_ms else REFUSED_OPEN_CHANGED
        # Otherwise a chain of new ids would hold the valve open for ever.
        if self.is_open:
            return REFUSED_OPEN_CHANGED
        if self._night.total[self._row] + max_ms > self._limits.valve_night_cap_ms:
            return REFUSED_VALVE_NIGHT
        return REFUSED_NONE

    def ask(self, open_id: int, max_ms: int) -> bool:
        """Open under a new id and say so; an id that has had its opening changes nothing."""
        if open_id == self.open_id:
            return False
        self.open_id = open_id
        self.max_ms = max_ms
        self.left_ms = max_ms
        self.is_open = True
        return True

    def recall(self, open_id: int) -> None:
        """Take over the last id from before a restart: it has had its opening, however long that was."""
        self.open_id = open_id

    def shut(self) -> None:
        """End the opening; its id never opens again."""
        self.is_open = False

    def elapse(self, ms: int) -> None:
        """Let time pass; the opening ends by itself."""
        if self.is_open:
            self._night.add(self._row, ms)
            self.left_ms -= ms
            if self.left_ms <= 0:
                self.is_open = False
