"""The water around the probe: the bottom layer as it was at the tank's last step, solved when somebody looks.

Looking changes nothing in the tank, and every look between two steps sees the same, whoever looked before.
Not here: electrodes and cells, and when the tank takes a step.
"""

from __future__ import annotations

from sim.matter.charge_balance import WaterSolver
from sim.matter.conductivity import conductivity_us_cm
from sim.matter.ions import HEAT
from sim.vessel.layers import EMPTY_L, Layers


class ProbeWater:
    """A copy of the bottom layer; new, that of an empty tank."""

    __slots__ = ("_ec_us_cm", "_parcel", "_solved", "_volume_l", "_water")

    def __init__(self) -> None:
        self._water = WaterSolver()
        self._parcel: list[float] = []
        self._volume_l = 0.0
        self._solved = False
        self._ec_us_cm: float | None = None

    def take(self, water: Layers) -> None:
        """Copy the bottom layer of water whose exchange has been carried out."""
        self._parcel = list(water.parcels[2])
        self._volume_l = water.volume_l / 3.0
        self._solved = False
        self._ec_us_cm = None

    def ph(self) -> float:
        """Return its pH; 7 where there is none."""
        return self._look().ph if self._wet else 7.0

    def ec_us_cm(self) -> float:
        """Return its conductivity at its own temperature, uS/cm; 0 where there is none."""
        if not self._wet:
            return 0.0
        if self._ec_us_cm is None:
            self._ec_us_cm = conductivity_us_cm(self._look())
        return self._ec_us_cm

    @property
    def _wet(self) -> bool:
        return self._volume_l >= EMPTY_L / 3.0

    def _look(self) -> WaterSolver:
        if not self._solved:
            per_l = 1.0 / self._volume_l
            # Where a search begins shows in its last digits: it may not depend on who looked before.
            self._water.rounds = 0
            self._water.find_ph([amount * per_l for amount in self._parcel], self._parcel[HEAT] * per_l)
            self._solved = True
        return self._water
