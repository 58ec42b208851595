"""Flow in the tubes of a dosing pump: how full a roller finds the tube, what a blockage lets past, gravity.

Arithmetic only; it keeps nothing and moves nothing. Laminar flow throughout (Hagen-Poiseuille), which is
right for anything thick; for water above about 0.2 m of head it gives too much. No inertia, no pressure
of the common line. The pressures are stand-ins, each with its reason.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from sim.matter.physical_constants import GRAVITY_M_S2
from sim.pumping.condition import Condition

RECOVERY_KPA = 70.0
"""Suction with which the tube of a pump opens again behind a roller, and the most it can pull: such pumps
lift water some 7 to 8 m (common practice, no source)."""
AIR_KPA = 98.0
VAPOUR_KPA = 5.0
"""Air presses no harder than that on the liquid in a bottle; short of a vacuum by so much a liquid gives off
gas and vapour (assumed; water at 20 deg C boils at 2.3 kPa, the rest is for dissolved air)."""
SOFTNESS_PER_KPA = 0.0017
"""Share of a roller's volume that a tube standing under suction has lost, for each kPa (assumed: 1.7 % for a
metre of water; a slope for small changes of level)."""
SLIP_KPA = 150.0
"""Pressure at which liquid slips back under the rollers (assumed)."""
OUTLET_M = 0.2
"""Tube from a pump to the common line (assumed)."""
GAP_MM, GAP_M = 1.0, 0.03
"""What the rollers leave open in a tube that they no longer shut, as a bore and its length (assumed)."""


def resistance_pa_s_m3(viscosity_mpa_s: float, length_m: float, bore_mm: float) -> float:
    """Return pressure over flow in a round tube: 128 viscosity length / (pi bore^4) (Hagen-Poiseuille)."""
    return 128.0 * viscosity_mpa_s * 1e-3 * length_m / (math.pi * (bore_mm * 1e-3) ** 4)


@dataclass(frozen=True, slots=True)
class Tubing:
    """The tubes of one pump and the liquid in them; the outlet tube is as wide as the suction tube.

    `lift_m`: how far the pump stands above the bottle's floor, below 0 under it.
    """

    holdup_ml: float
    suction_m: float
    viscosity_mpa_s: float = 1.0
    density_kg_l: float = 1.0
    lift_m: float = 0.0

    @property
    def bore_mm(self) -> float:
        """Give the bore: that of a round tube of this length and content."""
        return 1e3 * math.sqrt(4.0 * self.holdup_ml * 1e-6 / (math.pi * self.suction_m))

    @property
    def suction_kpa(self) -> float:
        """Give what draws the liquid in: as the tube can, and as air over an almost empty bottle lets it."""
        lift_kpa = self.density_kg_l * GRAVITY_M_S2 * max(self.lift_m, 0.0)
        return max(min(RECOVERY_KPA, AIR_KPA - VAPOUR_KPA - lift_kpa), 0.0)

    def refilled_share(self, roller_ml: float, rollers_per_s: float, condition: Condition) -> float:
        """Return how full a roller finds the tube, 0..1: 1 - e^(-time between rollers / recovery time).

        The tube opens by its own elasticity against the suction line's resistance: recovery time = resistance
        x roller volume / suction, a first-order lag (assumed; that thick liquids lower the flow is a pump
        maker's note, that thin ones do not is measured: Batista et al. 2015, medical pumps). So no pace draws
        more than suction / resistance.
        """
        recovery_s = self._recovery_s(roller_ml, condition.inlet_blocked)
        return -math.expm1(-1.0 / (rollers_per_s * recovery_s)) if recovery_s < math.inf else 0.0

    def closure_for(self, share: float, roller_ml: float, rollers_per_s: float) -> float:
        """Return how far the suction tube must close until a roller finds it just `share` full, below 1."""
        recovery_s = -1.0 / (rollers_per_s * math.log1p(-share))
        return 1.0 - min(math.sqrt(self._recovery_s(roller_ml, 0.0) / recovery_s), 1.0)

    def _recovery_s(self, roller_ml: float, inlet_blocked: float) -> float:
        suction_pa, free = self.suction_kpa * 1e3, (1.0 - inlet_blocked) ** 2
        if suction_pa <= 0.0 or free <= 0.0:
            return math.inf
        return self._resistance(self.suction_m) / free * roller_ml * 1e-6 / suction_pa

    def let_out_share(self, ml_s: float, condition: Condition) -> float:
        """Return how much of a flow gets past the outlet, 0..1; the rest slips back under the rollers."""
        if condition.outlet_blocked == 1.0:
            return 0.0
        resistance = self._resistance(OUTLET_M) / (1.0 - condition.outlet_blocked) ** 2
        pressure_kpa = resistance * ml_s * 1e-9
        return min(SLIP_KPA / pressure_kpa, 1.0) if pressure_kpa > 0.0 else 1.0

    def lift_share(self, lift_m: float) -> float:
        """Return the share of a roller's volume that so much more suction lift takes away (linear, small)."""
        return self.density_kg_l * GRAVITY_M_S2 * lift_m * SOFTNESS_PER_KPA

    def gravity_ml_s_m(self, condition: Condition) -> float:
        """Return the flow by gravity through a tube that does not hold, for each metre of head."""
        free = (1.0 - max(condition.inlet_blocked, condition.outlet_blocked)) ** 2 * condition.opening
        if free == 0.0:
            return 0.0
        gap = resistance_pa_s_m3(self.viscosity_mpa_s, GAP_M, GAP_MM)
        resistance = (gap + self._resistance(self.suction_m + OUTLET_M)) / free
        return self.density_kg_l * 1e3 * GRAVITY_M_S2 / resistance * 1e6

    def _resistance(self, length_m: float) -> float:
        return resistance_pa_s_m3(self.viscosity_mpa_s, length_m, self.bore_mm)
