"""What is wrong with one dosing pump and its tubes, as plain shares. What follows from it is `dosing.py`."""

from __future__ import annotations

from dataclasses import dataclass, fields


@dataclass(frozen=True, slots=True)
class Condition:
    """The state of one pump's tubes; everything 0 and False is sound. Raises ValueError outside 0..1.

    `outlet_blocked`, `inlet_blocked`: share of the tube's cross-section that is closed over its length; 1
    lets nothing through while the motor still turns. `split`: share of what leaves the pump head that runs to
    the floor. `air_leak`: share of what the pump draws that is air from a leaking suction fitting. `worn`:
    share of each roller's volume that is lost. `failed`: the rollers no longer shut the tube (worn through,
    or its clamp is open). `seized`: the rotor stands while its motor counts on.
    """

    outlet_blocked: float = 0.0
    inlet_blocked: float = 0.0
    split: float = 0.0
    air_leak: float = 0.0
    worn: float = 0.0
    failed: bool = False
    seized: bool = False

    def __post_init__(self) -> None:
        for line in fields(self):
            share = getattr(self, line.name)
            if not 0.0 <= share <= 1.0:
                raise ValueError(f"{line.name} = {share}: is a share from 0 to 1")

    @property
    def holds(self) -> bool:
        """Tell whether the tube holds its liquid while the pump stands."""
        return not self.failed and self.split == 0.0

    @property
    def opening(self) -> float:
        """Give how wide the way is that a tube that does not hold leaves open, as a share."""
        return 1.0 if self.failed else self.split


SOUND = Condition()
