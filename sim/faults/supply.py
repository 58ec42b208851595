"""Faults of the supply water: none, little, too cold, too warm."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sim.faults.fault import Act, Fault, plainly

if TYPE_CHECKING:
    from sim.rig import SimRig

SLOW_SHARE = 0.3
COLD_C, WARM_C = 5.0, 32.0
"""A main in a hard winter, and a hose that lies in the sun (assumed)."""


def _open(open_: bool) -> Act:
    def turn(rig: SimRig) -> None:
        rig.plant.supply_open = open_

    return plainly(turn)


def _slow(rig: SimRig) -> None:
    rig.plant.supply.flow_l_min *= SLOW_SHARE


def _at(temperature_c: float) -> Act:
    return plainly(lambda rig: rig.plant.change_supply(temperature_c))


FAULTS = (
    Fault("supply-lost", "The water supply failed.", _open(False)),
    Fault("supply-back", "The water supply came back.", _open(True)),
    Fault("supply-slow", "The supply brought only 30 % of its flow.", plainly(_slow)),
    Fault("supply-cold", "The supply brought water of 5 °C.", _at(COLD_C)),
    Fault("supply-warm", "The supply brought water of 32 °C.", _at(WARM_C)),
)
