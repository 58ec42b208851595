"""The simulated wall on gpiozero's mock pins: contacts moved by people and water, relays read back as levels.

It joins the real panel code to the simulated rig: what the physics gets is what the pins do, not what was
asked for. No decisions, no physics.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from gpiozero.pins.mock import MockFactory

from controller.run.image import Selector
from controller.run.request import DoseCommand, FillCommand, Request
from controller.settings.values import Pins, Tank
from firmware_bridge.panel import relay_pins
from firmware_bridge.pin_factory import GlitchFreeMockPin
from sim.panel import SimPanel

HISTORY = 1000


class WallPin(GlitchFreeMockPin):
    """A mock pin with a contact to ground: closed, it holds the pin low whatever the pull-up does.

    Of its levels the last thousand changes are kept: a lamp that flashes all year must not fill the memory.
    """

    def __init__(self, factory: Any, info: Any) -> None:
        self.contact_closed = False
        super().__init__(factory, info)

    def move_contact(self, closed: bool) -> None:
        """Close or open the contact; an open one leaves the pin to its pull."""
        self.contact_closed = closed
        if self.function == "input":
            self._settle()

    def _set_pull(self, value: str) -> None:
        super()._set_pull(value)
        self._settle()

    def _change_state(self, value: bool) -> bool:
        changed = bool(super()._change_state(value))
        if len(self.states) > 2 * HISTORY:
            del self.states[:-HISTORY]
        return changed

    def _settle(self) -> None:
        if self.contact_closed:
            self.drive_low()
        elif self.pull == "up":
            self.drive_high()


class WallFactory(MockFactory):  # type: ignore[misc]
    """A factory of wall pins that tells the time of the simulated rig, if it is given one."""

    def __init__(self, clock_s: Callable[[], float] | None = None) -> None:
        super().__init__(pin_class=WallPin)
        if clock_s is not None:
            self.ticks = clock_s


class MockWall:
    """One wall. `clock_s` gives the rig's own time, by which a button is debounced; None: this computer's."""

    def __init__(self, pins: Pins, clock_s: Callable[[], float] | None = None) -> None:
        self._pins = pins
        self._relays = relay_pins(pins)
        self.factory = WallFactory(clock_s)

    def move_contacts(self, panel: SimPanel, volume_l: float, tank: Tank) -> None:
        """Let every contact stand as people have left it and as the water holds the floats."""
        pins, seen = self._pins, panel.image(volume_l, tank.second_high_float_l, tank.low_float_l)
        both = seen.selector is Selector.IMPOSSIBLE
        for pin, closed in (
            (pins.selector_hand, both or seen.selector is Selector.HAND),
            (pins.selector_auto, both or seen.selector is Selector.AUTO),
            (pins.button, seen.button),
            (pins.estop_ok, seen.estop_ok),
            (pins.second_high_float, not seen.high_float),
            (pins.low_float, not seen.low_float),
        ):
            self.factory.pin(pin).move_contact(closed)

    def driven(self, fill: FillCommand | None, dose: DoseCommand | None) -> Request:
        """Give what the relays truly do, beside the fill and the dose that are under way on the board."""
        on = {key for key, (pin, active_high) in self._relays.items() if self._is_on(pin, active_high)}
        return Request(
            fill=fill,
            dose=dose,
            stir="stir" in on,
            air="air" in on,
            agitators=frozenset(name for name in self._pins.agitators if f"agitators.{name}" in on),
            drain="drain" in on,
            permit="permit" in on,
        )

    def lamp_and_sounder(self) -> tuple[bool, bool]:
        """Give whether the lamp is lit and the sounder sounds."""
        return self._is_on(self._pins.lamp, True), self._is_on(self._pins.sounder, True)

    def _is_on(self, number: int, active_high: bool) -> bool:
        """Say whether a relay is on; a pin that is no output is held off by its driver's resistor."""
        pin = self.factory.pin(number)
        return bool(pin.function == "output" and pin.state == active_high)
