"""Faults of one dosing pump and its tubes, by its input; the rinse pump goes by its own name."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sim.condition import SOUND, Condition
from sim.faults.fault import Act, Fault, Strikes

if TYPE_CHECKING:
    from sim.rig import SimRig


def channel_of(rig: SimRig, of: str) -> int:
    """Return the channel of the pump that doses this input, or of the rinse pump by its name."""
    if of == rig.site.rig.manifold.rinse_pump:
        return rig.site.rig.pumps[of].channel
    return rig.plant.dosing.channel_of(of)


def _pump(condition: Condition) -> Act:
    def change(rig: SimRig, of: str) -> None:
        rig.plant.dosing.condition[channel_of(rig, of)] = condition

    return change


def _fault(name: str, words: str, condition: Condition) -> Fault:
    return Fault(name, words, _pump(condition), Strikes.PUMP)


FAULTS = (
    _fault(
        "blocked",
        "The tube behind the pump of {of} was blocked: the motor turns, and nothing comes.",
        Condition(outlet_blocked=1.0),
    ),
    _fault(
        "suction-blocked",
        "The suction tube of {of} was shut: the motor turns, and nothing comes.",
        Condition(inlet_blocked=1.0),
    ),
    _fault(
        "half-blocked",
        "The suction tube of {of} was half shut: the thicker the liquid, the less comes.",
        Condition(inlet_blocked=0.5),
    ),
    _fault(
        "seized", "The rotor of the pump of {of} stood still while its motor counted on.", Condition(worn=1.0)
    ),
    _fault("worn", "The tube in the pump of {of} was worn: each turn moves 15 % less.", Condition(worn=0.15)),
    _fault(
        "split", "The tube behind the pump of {of} split: half of it runs to the floor.", Condition(split=0.5)
    ),
    _fault(
        "failed-tube",
        "The tube in the pump of {of} wore through: rollers shut it no more.",
        Condition(failed=True),
    ),
    _fault(
        "air-leak",
        "A fitting in the suction tube of {of} leaked: 30 % of what comes is air.",
        Condition(air_leak=0.3),
    ),
    _fault("pump-well", "Pump and tubes of {of} were put right.", SOUND),
)
