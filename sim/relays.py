"""Relays that do not do what they are told. What feeds them, and what they move, is the rig's.

A welded contact stays closed and a dead one open, whatever is asked; neither has power without the enable.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from controller.run.request import Request

STIR, AIR, DRAIN, PERMIT = "stir", "air", "drain", "permit"


@dataclass(slots=True)
class Relays:
    """Which relays are broken: by the four names above, or by the name of an agitator."""

    welded: set[str] = field(default_factory=set)
    dead: set[str] = field(default_factory=set)

    def contacts(self, asked: Request) -> Request:
        """Return what the contacts truly do when this is asked of them."""
        if not (self.welded or self.dead):
            return asked
        named = {STIR: asked.stir, AIR: asked.air, DRAIN: asked.drain, PERMIT: asked.permit}
        on = {name for name, closed in named.items() if closed} | asked.agitators
        on = (on | self.welded) - self.dead
        return Request(
            fill=asked.fill,
            dose=asked.dose,
            stir=STIR in on,
            air=AIR in on,
            agitators=frozenset(on - named.keys()),
            drain=DRAIN in on,
            permit=PERMIT in on,
        )
