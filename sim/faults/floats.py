"""Faults of the three floats and of the leak contact. Up is lifted, down is hanging."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sim.faults.fault import Act, Fault, plainly

if TYPE_CHECKING:
    from sim.rig import SimRig


def _leak(wet: bool) -> Act:
    def spill(rig: SimRig) -> None:
        rig.pins.leak_wet = wet

    return plainly(spill)


def _boards(lifted: bool | None) -> Act:
    def jam(rig: SimRig) -> None:
        rig.pins.float_stuck = lifted

    return plainly(jam)


def _second(lifted: bool | None) -> Act:
    def jam(rig: SimRig) -> None:
        rig.panel.high_float_stuck = lifted

    return plainly(jam)


def _low(says_low: bool | None) -> Act:
    def jam(rig: SimRig) -> None:
        rig.panel.low_float_stuck = says_low

    return plainly(jam)


FAULTS = (
    Fault("leak", "The leak contact on the floor became wet.", _leak(True)),
    Fault("leak-dry", "The leak contact became dry again.", _leak(False)),
    Fault("float-jammed-up", "The board's high float jammed at the top.", _boards(True)),
    Fault("float-jammed-down", "The board's high float jammed at the bottom.", _boards(False)),
    Fault("float-free", "The board's high float moved freely again.", _boards(None)),
    Fault("second-float-jammed-up", "The second high float jammed at the top.", _second(True)),
    Fault("second-float-jammed-down", "The second high float jammed at the bottom.", _second(False)),
    Fault("second-float-free", "The second high float moved freely again.", _second(None)),
    Fault(
        "low-float-jammed-up",
        "The low float jammed at the top: it does not see the tank run empty.",
        _low(False),
    ),
    Fault(
        "low-float-jammed-down", "The low float jammed at the bottom: it calls any tank empty.", _low(True)
    ),
    Fault("low-float-free", "The low float moved freely again.", _low(None)),
)
