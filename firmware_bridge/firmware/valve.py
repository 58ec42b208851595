"""The fill valve: every opening has an id of its own and an end of its own. No pins, no trips here."""

from firmware_bridge.registers import (
    MAX_NUMBER,
    REFUSED_NONE,
    REFUSED_OPEN_CHANGED,
    REFUSED_OPEN_ID,
    REFUSED_VALUE,
    REFUSED_VALVE_TIME,
)


class Valve:
    """The last opening. `is_open` is what the pin must show."""

    def __init__(self, cap_ms: int) -> None:
        self._cap_ms = cap_ms
        self._left_ms = 0
        self.open_id = 0
        self.max_ms = 0
        self.is_open = False

    def refusal(self, open_id: int, max_ms: int) -> int:
        """Say why this opening may not be asked for; moves nothing."""
        if not (0 < open_id <= MAX_NUMBER and max_ms > 0):
            return REFUSED_VALUE
        if max_ms > self._cap_ms:
            return REFUSED_VALVE_TIME
        if open_id < self.open_id:
            return REFUSED_OPEN_ID
        if open_id == self.open_id:
            return REFUSED_NONE if max_ms == self.max_ms else REFUSED_OPEN_CHANGED
        # Otherwise a chain of new ids would hold the valve open for ever.
        return REFUSED_OPEN_CHANGED if self.is_open else REFUSED_NONE

    def ask(self, open_id: int, max_ms: int) -> None:
        """Open under a new id; an id that has had its opening changes nothing."""
        if open_id != self.open_id:
            self.open_id = open_id
            self.max_ms = max_ms
            self._left_ms = max_ms
            self.is_open = True

    def shut(self) -> None:
        """End the opening; its id never opens again."""
        self.is_open = False

    def elapse(self, ms: int) -> None:
        """Let time pass; the opening ends by itself."""
        if self.is_open:
            self._left_ms -= ms
            if self._left_ms <= 0:
                self.is_open = False
