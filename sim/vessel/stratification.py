"""How the weight of water in a tank hinders or hastens its mixing, and where an addition comes to rest.

Only densities, speeds and rates; what is moved is told by `layers.py`. Densities: Tanaka's for water plus the
mass above water that each parcel carries; volumes add up.

Stable layers: what stirs is slowed by 1 / (1 + N), where N is g' H2 C2 / (U2 D) for the jet. N = 1 is the
critical densimetric Froude number U / sqrt(g' D) = C H / D of a jet that just mixes a tank with a denser or
lighter inflow (Rossman & Grayman, J. Environ. Eng. 125 (1999) 755; form and C = 1.5 for a level jet, 0.8 for
an upright one, from memory; 1 is assumed between them). How mixing fades around N = 1 is assumed. Without a
jet N is a Richardson number g' H / u2 with the speeds below (assumed).
Unstable layers overturn at 0.25 sqrt(g' / h), about half the speed of a gravity current in a lock exchange
(0.5 sqrt(g' h), Benjamin, J. Fluid Mech. 31 (1968) 209; the half is assumed).
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from sim.matter.ions import EXCESS, HEAT
from sim.matter.physical_constants import GRAVITY_M_S2
from sim.matter.viscosity import water_density_kg_m3
from sim.vessel.layers import ALL_IN, Layer, Layers, Shares
from sim.vessel.mixing import ROUNDS_TO_95, jet_mixing_time_s, jet_speed_m_s

STILL_MIXING_S = 3.0 * 3600.0
AIR_MIXING_S = 180.0
"""95 % times of a still tank (convection) and of one stirred by bubbles alone (assumed)."""
STILL_M_S = 1e-3
BUBBLES_M_S = 0.1
"""Speeds of convection, and of water set moving by bubbles or by water that falls in (assumed)."""
FROUDE_FACTOR = 1.0
OVERTURN_SHARE = 0.25
PLUNGING_ROUNDS = 6.0
"""Exchange caused by water that falls in, per tank volume of it (assumed)."""
STREAM_M = 0.01
"""Width of what runs in (assumed)."""
ENTRAINED = 2.0
"""Parts of the water around it that dilute an addition on its way (assumed: about what a plume of supply
water takes over half a metre; a thin dose takes far more, but is heavy enough all the same). Only where it
comes to rest follows from this: the entrained water is not moved.
"""


def density_kg_m3(content: Sequence[float], volume_l: float) -> float:
    """Return the density of a parcel of this volume, L > 0."""
    return water_density_kg_m3(content[HEAT] / volume_l) + content[EXCESS] / volume_l


def reduced_gravity_m_s2(difference_kg_m3: float) -> float:
    """Return g' of a density difference in water."""
    return GRAVITY_M_S2 * difference_kg_m3 * 1e-3


class Stratification:
    """Densities of the three layers when last surveyed, and the rates that follow from them, 1/s.

    `upper` and `lower` are exchange rates of neighbouring layers.
    """

    __slots__ = ("_bulk_m_s", "_kg_m3", "_splash", "lower", "upper")

    def __init__(self) -> None:
        self._kg_m3 = [0.0, 0.0, 0.0]
        self._bulk_m_s = STILL_M_S
        self.upper = self.lower = 0.0
        self._splash = 1.0, 1.0

    def survey(
        self, water: Layers, area_m2: float, stir_l_min: float, nozzle_mm: float, air_on: bool
    ) -> None:
        """Look at layers that hold water, and at what stirs them."""
        third_l = water.volume_l / 3.0
        self._kg_m3 = [density_kg_m3(layer, third_l) for layer in water.parcels]
        depth_m = water.volume_l * 1e-3 / area_m2
        path_m = math.sqrt(4.0 * area_m2 / math.pi + depth_m * depth_m)
        jet_per_s, jet_per_g = 0.0, 0.0
        self._bulk_m_s = STILL_M_S
        if stir_l_min > 0.0:
            jet_per_s = 1.0 / jet_mixing_time_s(stir_l_min, nozzle_mm, path_m)
            speed_m_s = jet_speed_m_s(stir_l_min, nozzle_mm)
            jet_per_g = (FROUDE_FACTOR * depth_m / speed_m_s) ** 2 / (nozzle_mm * 1e-3)
            self._bulk_m_s += path_m * jet_per_s
        if air_on:
            self._bulk_m_s += BUBBLES_M_S
        sources = (
            (1.0 / STILL_MIXING_S, depth_m / STILL_M_S**2),
            (jet_per_s, jet_per_g),
            (1.0 / AIR_MIXING_S if air_on else 0.0, depth_m / BUBBLES_M_S**2),
        )
        top, middle, bottom = self._kg_m3
        self.upper = _exchange_per_s(middle - top, depth_m / 3.0, sources)
        self.lower = _exchange_per_s(bottom - middle, depth_m / 3.0, sources)
        by_bubbles = depth_m / BUBBLES_M_S**2
        self._splash = _slowed(middle - top, by_bubbles), _slowed(bottom - middle, by_bubbles)

    def splash(self, water: Layers, share: float) -> None:
        """Let water that fell in, this share of all, stir what it fell into."""
        rounds = PLUNGING_ROUNDS * share
        water.stir(rounds * self._splash[0], rounds * self._splash[1])

    def resting_place(self, kg_m3: float, at: Layer) -> Shares:
        """Return how an addition of this density that enters at a layer is shared out among the three.

        It goes on past every layer that is lighter (or, upwards, heavier) than itself diluted `ENTRAINED`
        times with the layer it enters. The share that gets through without being caught by what moves in the
        tank is Ri / (1 + Ri) with Ri = g' x its width / speed2; the speed is the jet's path over its mixing
        time, that of bubbles, and that of convection together (assumed).
        """
        place = at.value
        here = self._kg_m3[place]
        diluted = here + (kg_m3 - here) / (1.0 + ENTRAINED)
        rest = place
        while rest < 2 and diluted > self._kg_m3[rest + 1] and diluted > here:
            rest += 1
        while rest > 0 and diluted < self._kg_m3[rest - 1] and diluted < here:
            rest -= 1
        if rest == place:
            return ALL_IN[at]
        richardson = reduced_gravity_m_s2(abs(kg_m3 - here)) * STREAM_M / self._bulk_m_s**2
        through = richardson / (1.0 + richardson)
        shares = [0.0, 0.0, 0.0]
        shares[place], shares[rest] = 1.0 - through, through
        return shares[0], shares[1], shares[2]


def _slowed(step_kg_m3: float, per_g: float) -> float:
    """Return what is left of a stirring where the lower layer is heavier by `step_kg_m3`."""
    return 1.0 / (1.0 + per_g * reduced_gravity_m_s2(step_kg_m3)) if step_kg_m3 > 0.0 else 1.0


def _exchange_per_s(step_kg_m3: float, thickness_m: float, sources: tuple[tuple[float, float], ...]) -> float:
    """Return the exchange rate of two layers; `sources` are (1 / 95 % time, N per m/s2) of what stirs."""
    rate = ROUNDS_TO_95 * sum(per_s * _slowed(step_kg_m3, per_g) for per_s, per_g in sources if per_s)
    if step_kg_m3 < 0.0:
        rate += OVERTURN_SHARE * math.sqrt(reduced_gravity_m_s2(-step_kg_m3) / thickness_m)
    return rate
