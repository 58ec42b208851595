"""Some liquid with its solids, to be split and joined. No bottle and no time here."""

from __future__ import annotations


class Portion:
    """Some liquid with its solids, mL of each grade; `ml` counts both."""

    __slots__ = ("ml", "solids_ml")

    def __init__(self, ml: float, solids_ml: list[float]) -> None:
        self.ml = ml
        self.solids_ml = solids_ml

    @property
    def share(self) -> float:
        """Volume share of solids."""
        return sum(self.solids_ml) / self.ml if self.ml > 0.0 else 0.0

    def split_off(self, ml: float) -> Portion:
        """Take so much of it, or all there is."""
        share = 1.0 if ml >= self.ml else ml / self.ml
        taken = Portion(self.ml * share, [amount * share for amount in self.solids_ml])
        self.ml -= taken.ml
        self.solids_ml = [amount - gone for amount, gone in zip(self.solids_ml, taken.solids_ml, strict=True)]
        return taken

    def add(self, other: Portion) -> None:
        """Mix another portion into it."""
        self.ml += other.ml
        self.solids_ml = [amount + more for amount, more in zip(self.solids_ml, other.solids_ml, strict=True)]
