"""Faults of the bottles, by the input they hold, and of the scales, by their name or what stands on them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sim.faults.fault import Act, Fault, Strikes
from sim.sensing import scale as ailing
from sim.sensing.scale import ScaleCondition

if TYPE_CHECKING:
    from sim.rig import SimRig


def _empty(rig: SimRig, of: str) -> None:
    dosing = rig.plant.dosing
    stock = dosing.bottles[dosing.channel_of(of)].stock
    stock.draw(stock.reachable_ml)


def _unprimed(rig: SimRig, of: str) -> None:
    dosing = rig.plant.dosing
    dosing.bottles[dosing.channel_of(of)].lose_prime()


def _swapped(rig: SimRig, of: str) -> None:
    """Put the tubes of this bottle and of the next one in the file on each other's pumps."""
    dosing, names = rig.plant.dosing, list(rig.site.inputs)
    other = names[(names.index(of) + 1) % len(names)]
    one, two = dosing.channel_of(of), dosing.channel_of(other)
    dosing.swap_tubes(one, two)


def _scale(condition: ScaleCondition) -> Act:
    def change(rig: SimRig, of: str) -> None:
        bolted = rig.site.rig
        pump = bolted.pumps[rig.site.inputs[of].pump if of in rig.site.inputs else bolted.manifold.rinse_pump]
        # A scale's own name comes first where an input has the same.
        name = of if of in bolted.scales else pump.scale or ""
        line = bolted.scales[name].line
        rig.pins.overrides.pop(f"scale {line}", None)
        rig.plant.instruments.scales[line].condition = condition

    return change


FAULTS = (
    Fault(
        "bottle-empty",
        "The bottle of {of} had run dry down to its dip tube, whatever inputs.toml says.",
        _empty,
        Strikes.BOTTLE,
    ),
    Fault("unprimed", "The suction tube of {of} ran empty back into its bottle.", _unprimed, Strikes.BOTTLE),
    Fault(
        "swapped",
        "The suction tubes of {of} and of the next input in inputs.toml were put on each other's pumps.",
        _swapped,
        Strikes.BOTTLE,
    ),
    Fault(
        "scale-leaned-on",
        "Someone leaned on the scale at {of}.",
        _scale(ailing.LEANED_ON),
        Strikes.SCALE,
    ),
    Fault(
        "scale-bumped",
        "The scale at {of} was bumped: it reads 150 g more.",
        _scale(ailing.SHIFTED),
        Strikes.SCALE,
    ),
    Fault(
        "scale-jammed",
        "What stands on the scale at {of} touches the wall, which carries 30 % of every change.",
        _scale(ailing.JAMMED),
        Strikes.SCALE,
    ),
    Fault("scale-lost", "The scale at {of} did not answer any more.", _scale(ailing.CUT), Strikes.SCALE),
    Fault("scale-well", "The scale at {of} was put right.", _scale(ailing.HEALTHY), Strikes.SCALE),
)
