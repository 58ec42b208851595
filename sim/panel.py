"""The wall side of the simulated rig: selector, button, emergency stop, second floats, and the relays.

Relays work only while the board's enable feeds them and the emergency stop is in; that is the wiring.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from controller.run.image import PanelImage, Selector
from controller.run.request import ALL_OFF, Request


@dataclass(slots=True)
class SimPanel:
    """Contacts as a person or the water moves them, and relays as the controller drives them."""

    selector: Selector = Selector.AUTO
    button: bool = False
    estop_ok: bool = True
    high_float_stuck: bool | None = None
    low_float_stuck: bool | None = None
    driven: Request = field(default=ALL_OFF)

    def image(self, volume_l: float, second_high_float_l: float, low_float_l: float) -> PanelImage:
        """Read the contacts; `volume_l` is what stands in the tank as water, without foam."""
        lifted, low = volume_l >= second_high_float_l, volume_l < low_float_l
        return PanelImage(
            selector=self.selector,
            button=self.button,
            estop_ok=self.estop_ok,
            high_float=lifted if self.high_float_stuck is None else self.high_float_stuck,
            low_float=low if self.low_float_stuck is None else self.low_float_stuck,
        )
