"""What people and broken contacts do at the wall: emergency stop, selector, button."""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.run.image import Selector
from sim.faults.fault import Act, Fault, plainly

if TYPE_CHECKING:
    from sim.rig import SimRig


def _selector(position: Selector) -> Act:
    def turn(rig: SimRig) -> None:
        rig.panel.selector = position

    return plainly(turn)


def _estop(ok: bool) -> Act:
    def press(rig: SimRig) -> None:
        rig.panel.estop_ok = ok

    return plainly(press)


def _button(down: bool) -> Act:
    def press(rig: SimRig) -> None:
        rig.panel.button = down

    return plainly(press)


FAULTS = (
    Fault("estop-pressed", "The emergency stop was pressed: everything lost its power.", _estop(False)),
    Fault("estop-released", "The emergency stop was released.", _estop(True)),
    Fault("selector-off", "Someone turned the selector to OFF.", _selector(Selector.OFF)),
    Fault("selector-hand", "Someone turned the selector to HAND.", _selector(Selector.HAND)),
    Fault("selector-auto", "Someone turned the selector to AUTO.", _selector(Selector.AUTO)),
    Fault(
        "selector-contradicts",
        "Both contacts of the selector closed at once.",
        _selector(Selector.IMPOSSIBLE),
    ),
    Fault("button-down", "The wall button was pressed and stayed down.", _button(True)),
    Fault("button-up", "The wall button was let go.", _button(False)),
)
