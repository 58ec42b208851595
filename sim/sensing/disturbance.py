"""What runs near the sensors at a moment. Plain values; who switches is the plant's affair."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Disturbance:
    """What runs nearby while a sensor looks; `agitators` by name."""

    stir: bool = False
    air: bool = False
    motor: bool = False
    filling: bool = False
    agitators: frozenset[str] = frozenset()

    @property
    def moves_water(self) -> bool:
        """Tell whether the water in the tank is kept moving."""
        return self.stir or self.air or self.filling


QUIET = Disturbance()
