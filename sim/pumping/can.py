"""The can of rinse water: water to the last drop, then air. No scale, no pump."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(slots=True)
class Can:
    """What the rinse water is drawn from, to the last drop; from then on its pump draws air."""

    volume_ml: float
    gap_ml: float = 0.0

    def draw(self, ml: float) -> float:
        """Take up to so much water; give what came, mL."""
        drawn_ml = min(ml, self.volume_ml)
        self.volume_ml -= drawn_ml
        filled_ml = min(drawn_ml, self.gap_ml)
        self.gap_ml -= filled_ml
        return drawn_ml - filled_ml

    def take_back(self, ml: float) -> None:
        """Take back what the pump draws back; so much must be drawn again before any comes out."""
        self.volume_ml += ml
        self.gap_ml += ml
