"""Faults of the conductivity cell."""

from __future__ import annotations

from typing import TYPE_CHECKING

from firmware_bridge.registers import NO_READING
from sim.faults.fault import Act, Fault, plainly
from sim.sensing import conductivity_cell as ailing
from sim.sensing.conductivity_cell import CellCondition

if TYPE_CHECKING:
    from sim.rig import SimRig


def _cell(condition: CellCondition) -> Act:
    def change(rig: SimRig) -> None:
        rig.pins.overrides.pop("conductivity", None)
        rig.plant.instruments.cell.condition = condition

    return plainly(change)


def _lost(rig: SimRig) -> None:
    rig.pins.overrides["conductivity"] = NO_READING


FAULTS = (
    Fault("cell-dry", "The conductivity cell hung dry, or its cable broke.", _cell(ailing.CUT)),
    Fault("cell-fouled", "The conductivity cell was fouled.", _cell(ailing.FOULED)),
    Fault("cell-bubble", "A bubble sat in the conductivity cell.", _cell(ailing.BUBBLE_CAUGHT)),
    Fault("cell-shorted", "The conductivity cell was shorted.", _cell(ailing.SHORTED)),
    Fault("cell-lost", "The conductivity cell gave no reading any more.", plainly(_lost)),
    Fault("cell-well", "The conductivity cell was put right.", _cell(ailing.HEALTHY)),
)
