"""Mock pins that remember every level they were driven to as outputs."""

from __future__ import annotations

from typing import Any

from gpiozero.pins.mock import MockFactory

from firmware_bridge.pin_factory import GlitchFreeMockPin


class KeptPins(MockFactory):
    """Mock pins whose histories are kept after they are let go."""

    def __init__(self) -> None:
        super().__init__(pin_class=GlitchFreeMockPin)
        self.kept: dict[int, Any] = {}
        self.levels: dict[int, list[bool]] = {}

    def pin(self, name: int) -> Any:
        pin = super().pin(name)
        if name not in self.kept:
            self.kept[name] = pin
            self._listen(name, pin)
        return pin

    def _listen(self, name: int, pin: Any) -> None:
        levels = self.levels.setdefault(name, [])
        become, change = pin.output_with_state, pin._change_state

        def output_with_state(state: bool) -> None:
            become(state)
            levels.append(bool(state))

        def change_state(value: bool) -> bool:
            if pin.function == "output":
                levels.append(bool(value))
            return bool(change(value))

        pin.output_with_state, pin._change_state = output_with_state, change_state
