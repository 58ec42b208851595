"""The simulated rig's wall through the real panel code: its pins are gpiozero's mock pins, moved by the sim.

Only the joining lives here: the contacts are `mock_wall.py`, the code that reads and drives them is
`firmware_bridge.panel`.
"""

from __future__ import annotations

from collections.abc import Callable

from controller.run.image import PanelImage
from controller.run.request import Request
from controller.settings.values import Pins, Tank
from firmware_bridge.panel import Panel
from sim.mock_wall import MockWall
from sim.panel import SimPanel


class GpioWall:
    """Panel code and mock pins of one rig; `clock_s` gives the rig's own time."""

    def __init__(self, pins: Pins, clock_s: Callable[[], float]) -> None:
        self.mock = MockWall(pins, clock_s)
        self.panel = Panel(pins, self.mock.factory)

    def read(self, contacts: SimPanel, volume_l: float, tank: Tank) -> PanelImage:
        """Move the contacts as they stand now, and read them as a wired rig does."""
        self.mock.move_contacts(contacts, volume_l, tank)
        return self.panel.read()

    def drive(self, outputs: Request) -> Request:
        """Drive the relays as a wired rig does, and give what they truly do."""
        self.panel.drive(outputs)
        return self.mock.driven(outputs.fill, outputs.dose)

    def close(self) -> None:
        """Switch everything off and let the pins go."""
        self.panel.close()
        self.mock.factory.reset()
