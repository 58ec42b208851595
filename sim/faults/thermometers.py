"""Faults of the thermometers in the tank and in the supply pipe."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from sim.faults.fault import Act, Fault, plainly
from sim.sensing import thermometer as ailing
from sim.sensing.thermometer import Thermometer, ThermometerCondition

if TYPE_CHECKING:
    from sim.rig import SimRig

Which = Callable[["SimRig"], Thermometer]


def _tank(rig: SimRig) -> Thermometer:
    return rig.plant.instruments.tank_thermometer


def _supply(rig: SimRig) -> Thermometer:
    return rig.plant.instruments.supply_thermometer


def _is(which: Which, condition: ThermometerCondition) -> Act:
    def change(rig: SimRig) -> None:
        which(rig).condition = condition

    return plainly(change)


def _frozen(which: Which) -> Act:
    def freeze(rig: SimRig) -> None:
        part = which(rig)
        part.condition = ThermometerCondition("frozen", fixed_c=part.read_c(rig.now_s))

    return plainly(freeze)


def _of(name: str, where: str, which: Which) -> tuple[Fault, ...]:
    part = f"The thermometer in the {where}"
    return (
        Fault(f"{name}-thermometer-lost", f"{part} did not answer any more.", _is(which, ailing.CUT)),
        Fault(
            f"{name}-thermometer-power-up",
            f"{part} lost its power and gives 85 °C since.",
            _is(which, ailing.POWER_UP),
        ),
        Fault(f"{name}-thermometer-frozen", f"{part} froze at what it showed.", _frozen(which)),
        Fault(f"{name}-thermometer-astray", f"{part} went 4 K too high.", _is(which, ailing.ASTRAY)),
        Fault(f"{name}-thermometer-well", f"{part} was put right.", _is(which, ailing.HEALTHY)),
    )


FAULTS = (*_of("tank", "tank", _tank), *_of("supply", "supply pipe", _supply))
