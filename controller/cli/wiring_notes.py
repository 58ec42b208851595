"""Scales by their data lines, and what must be known of the optional parts of a site: words and rows only.

Pins themselves are `wired_pins.py`; nothing is drawn or printed here.
"""

from __future__ import annotations

from dataclasses import dataclass

from controller.settings.values import Site
from firmware_bridge.firmware import pin_plan as plan


@dataclass(frozen=True, slots=True)
class ScaleLine:
    """One scale: the pin and number of its data line, its name, the pumps that draw from it."""

    pin: int
    line: int
    scale: str
    pumps: tuple[str, ...]


def scale_lines(site: Site) -> tuple[ScaleLine, ...]:
    """List the scales by their data lines, each with the pumps that draw from what stands on it."""
    scales = sorted(site.rig.scales.values(), key=lambda scale: scale.line)
    return tuple(
        ScaleLine(
            plan.SCALE_DATA[scale.line],
            scale.line,
            scale.name,
            tuple(pump.name for pump in site.rig.pumps.values() if pump.scale == scale.name),
        )
        for scale in scales
    )


def wiring_notes(site: Site) -> tuple[str, ...]:
    """Write what must be known of the optional parts that this site has, and how they are proved."""
    notes = []
    if site.rig.scales:
        notes.append(
            "Scales: all converters share the clock line, each has its data line. Prove each one: lay a "
            "known weight on it and see that the line of this scale, and no other, shows it."
        )
    if site.rig.second_probe is not None:
        notes.append(
            f"Second pH probe: the analogue switch leads either front end to GP{plan.ADC_PH}. A switch that "
            "is stuck shows one probe twice, and both then agree whatever the other one says; no program can "
            "see that. Prove it at commissioning: lift one probe out of its buffer and see that only its own "
            "reading changes; then the other one."
        )
    return tuple(notes)
