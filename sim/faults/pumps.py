"""Faults of one dosing pump and its tubes, by its input; the rinse pump goes by its own name."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from controller.measure.metering import pace_counts_per_s
from controller.settings.values import Pump
from sim.faults.fault import Act, Fault, Strikes
from sim.pumping.condition import SOUND

if TYPE_CHECKING:
    from sim.rig import SimRig


def channel_of(rig: SimRig, of: str) -> int:
    """Return the channel of the pump that inputs.toml gives this input, or of the rinse pump by its name."""
    return _pump_of(rig, of).channel


def _pump_of(rig: SimRig, of: str) -> Pump:
    liquid = rig.site.inputs.get(of)
    return rig.site.rig.pumps[of if liquid is None else liquid.pump]


def _pump(**changes: Any) -> Act:
    """Make the act that changes so much of a pump's condition and leaves whatever else ails it."""

    def change(rig: SimRig, of: str) -> None:
        condition = rig.plant.dosing.condition
        channel = channel_of(rig, of)
        condition[channel] = replace(condition.get(channel, SOUND), **changes)

    return change


def _half_blocked(rig: SimRig, of: str) -> None:
    """Close the suction tube until this liquid, at its fastest planned pace, comes by half."""
    pump, liquid = _pump_of(rig, of), rig.site.inputs.get(of)
    ml_min = pump.max_ml_min if liquid is None else min(pump.max_ml_min, liquid.max_ml_min)
    rig.plant.dosing.narrow_suction(pump.channel, 0.5, pace_counts_per_s(pump, ml_min))


def _put_right(rig: SimRig, of: str) -> None:
    rig.plant.dosing.condition[channel_of(rig, of)] = SOUND


def _fault(name: str, words: str, act: Act) -> Fault:
    return Fault(name, words, act, Strikes.PUMP)


FAULTS = (
    _fault(
        "blocked",
        "The tube behind the pump of {of} was blocked: the motor turns, and nothing comes.",
        _pump(outlet_blocked=1.0),
    ),
    _fault(
        "suction-blocked",
        "The suction tube of {of} was shut: the motor turns, and nothing comes.",
        _pump(inlet_blocked=1.0),
    ),
    _fault(
        "half-blocked",
        "The suction tube of {of} was squeezed: at its fastest planned pace half of each turn comes.",
        _half_blocked,
    ),
    _fault(
        "seized", "The rotor of the pump of {of} stood still while its motor counted on.", _pump(seized=True)
    ),
    _fault("worn", "The tube in the pump of {of} was worn: each turn moves 15 % less.", _pump(worn=0.15)),
    _fault(
        "split", "The tube behind the pump of {of} split: half of it runs to the floor.", _pump(split=0.5)
    ),
    _fault(
        "failed-tube",
        "The tube in the pump of {of} wore through: half of each turn slips back, and at rest the liquid "
        "runs away, into the tank from a bottle above it, else back into its bottle.",
        _pump(failed=True),
    ),
    _fault(
        "air-leak",
        "A fitting in the suction tube of {of} leaked: 30 % of what comes is air.",
        _pump(air_leak=0.3),
    ),
    _fault("pump-well", "Pump and tubes of {of} were put right.", _put_right),
)
