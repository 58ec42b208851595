"""Faults of level sensor and flow meter, and foam that the level sensor takes for water."""

from __future__ import annotations

from typing import TYPE_CHECKING

from firmware_bridge.registers import NO_READING
from sim.faults.fault import Act, Fault, plainly
from sim.matter.ions import FOAMER, HEAT, PARCEL
from sim.sensing import flow_meter, level_sensor
from sim.sensing.flow_meter import FlowMeterCondition
from sim.sensing.level_sensor import LevelCondition

if TYPE_CHECKING:
    from sim.rig import SimRig

SOAP_ML = 60.0


def _level(condition: LevelCondition) -> Act:
    def change(rig: SimRig) -> None:
        rig.pins.overrides.pop("level", None)
        rig.plant.instruments.level.condition = condition

    return plainly(change)


def _lost(rig: SimRig) -> None:
    rig.pins.overrides["level"] = NO_READING


def _soap(rig: SimRig) -> None:
    soap = [0.0] * len(PARCEL)
    soap[FOAMER], soap[HEAT] = SOAP_ML, SOAP_ML * 1e-3 * rig.plant.tank.room_c
    rig.plant.tank.add(SOAP_ML, soap)


def _flow(condition: FlowMeterCondition) -> Act:
    def change(rig: SimRig) -> None:
        rig.plant.instruments.flow_meter.condition = condition

    return plainly(change)


FAULTS = (
    Fault(
        "level-frozen",
        "The level sensor froze: it repeats what it read at that moment.",
        _level(level_sensor.STUCK),
    ),
    Fault("level-lost", "The level sensor gave no reading any more.", plainly(_lost)),
    Fault("level-high", "The level sensor slipped: it reads 60 mm too high.", _level(level_sensor.SHIFTED)),
    Fault("level-low", "The level sensor clogged: it reads 15 % too low.", _level(level_sensor.CLOGGED)),
    Fault(
        "level-jumping",
        "Drops hung on the level sensor: now and then it jumps to 800 mm.",
        _level(level_sensor.CONDENSATION),
    ),
    Fault("level-well", "The level sensor was put right.", _level(level_sensor.HEALTHY)),
    Fault("soap-in-tank", "Someone spilt 60 mL of soap into the tank, which foams.", plainly(_soap)),
    Fault("flow-stuck", "The rotor of the flow meter stuck.", _flow(flow_meter.STUCK)),
    Fault(
        "flow-runs-on",
        "The flow meter counted 3 L/min that do not flow.",
        _flow(flow_meter.RUNS_ON),
    ),
    Fault(
        "flow-high",
        "The flow meter counted 20 % too much.",
        _flow(FlowMeterCondition("reads high", counts_share=1.2)),
    ),
    Fault(
        "flow-low",
        "The flow meter counted 20 % too little.",
        _flow(FlowMeterCondition("reads low", counts_share=0.8)),
    ),
    Fault("flow-well", "The flow meter was put right.", _flow(flow_meter.HEALTHY)),
)
