"""Grains in the tank: what they weigh, how fast they fall, rise again, dissolve and grow.

Rates, each with its standing; `omega` is ion product over solubility product:
- calcite: Plummer, Wigley & Parkhurst, Am. J. Sci. 278 (1978) 179, constants as in the rates of the PHREEQC
  database, both ways: it grows by the same law where omega > 1. No inhibitors (phosphate, humics).
- gypsum dissolves by diffusion to a sphere (Sherwood number 2), in its order of magnitude, and grows by the
  parabolic law (sqrt(omega) - 1)2 of Liu & Nancollas, J. Cryst. Growth 6 (1970) 281 (from memory), with the
  same constant (assumed).
- brushite likewise: parabolic growth after Marshall & Nancollas, J. Phys. Chem. 73 (1969) 3838 (from memory),
  constant assumed.
- first grains appear only above an omega that is assumed for each mineral, at an assumed trickle; how long
  it then takes until something is seen follows from their growth. Gypsum 1.5 and brushite 2: below, water
  stays clear for more than a night; calcite 10: tap water with an index of up to 1 commonly stays clear.
Surface goes with the amount (first order) whatever the `Grain`, simplifications. Grains that rest on the
floor show a tenth of their surface. Not here: how much moves in a step (`minerals.py`).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from sim.matter import saturation
from sim.matter.charge_balance import WaterSolver
from sim.matter.ions import BRUSHITE, CA, CARBONATE, GYPSUM, INERT, LIMESTONE, PHOSPHATE, SO4
from sim.matter.settling import terminal_velocity_m_s
from sim.matter.viscosity import water_density_kg_m3, water_viscosity_mpa_s

LIMESTONE_CM2_MMOL = 221.0
"""Surface of 10 um grains of calcite (2.71 g/cm3): 6 / (density x diameter) x 0.1001 g/mmol."""
GYPSUM_PER_S = 0.05
"""2 D/d x surface x solubility is 0.13 at 10 um (1e-5 cm2/s, 445 cm2/mmol, 15 mmol/L); sizes mix."""
BRUSHITE_PER_S = 0.007
"""The same with 443 cm2/mmol and 2 mmol/L, times the share that `GYPSUM_PER_S` is of its 0.13."""
FLOOR_SURFACE = 0.1
RISE_S = 20.0
AIR_RISE_S = 120.0
"""Time constants with which a running stir pump lifts grains off the floor, and with which bubbles do, which
move less water along it (assumed)."""
EXCESS_G_MMOL = {GYPSUM: 0.0980, LIMESTONE: 0.0632, BRUSHITE: 0.0981, INERT: 0.25}
"""Mass of a mmol of grains above that of as much water: molar mass x (1 - 1 / density), 172.17 g at 2.32,
100.09 g at 2.71 and 172.09 g at 2.328 kg/L (minerals, from memory). What is inert has no molar mass: 0.25 g
are called a mmol of it.
"""

DISSOLVES_INTO = {GYPSUM: (CA, SO4), LIMESTONE: (CA, CARBONATE), BRUSHITE: (CA, PHOSPHATE)}
INDEX_OF = {GYPSUM: saturation.gypsum, LIMESTONE: saturation.calcite, BRUSHITE: saturation.brushite}
APPEARS_ABOVE = {GYPSUM: math.log10(1.5), LIMESTONE: 1.0, BRUSHITE: math.log10(2.0)}
"""Saturation index above which a mineral appears in water that holds none of it (assumed)."""
SEEDS_MMOL_L_S = 1e-6
"""How fast first grains appear (assumed)."""


@dataclass(frozen=True, slots=True)
class Grain:
    """The grain that stands for all of a kind: the size that halves their volume, and its density.

    One speed for a powder of many sizes is a simplification: coarse grains fall sooner, fine ones later.
    """

    um: float
    kg_l: float

    def fall_m_s(self, temperature_c: float) -> float:
        """Return its settling speed in water, m/s."""
        return terminal_velocity_m_s(
            self.um * 1e-6,
            self.kg_l * 1e3,
            water_density_kg_m3(temperature_c),
            water_viscosity_mpa_s(temperature_c) * 1e-3,
        )


STAND_INS = {
    GYPSUM: Grain(20.0, 2.32),
    LIMESTONE: Grain(10.0, 2.71),
    INERT: Grain(25.0, 2.7),
    BRUSHITE: Grain(10.0, 2.328),
}
"""Grains of each kind where no input tells their size; brushite comes from the water alone (assumed)."""


def rise_s(stirred: bool, air_on: bool) -> float:
    """Return the time constant with which moving water lifts grains, s; 0 in still water, where they fall."""
    if stirred:
        return RISE_S
    return AIR_RISE_S if air_on else 0.0


def dissolving_per_s(kind: int, water: WaterSolver) -> float:
    """Return the share of suspended grains of `kind` that dissolves per second; negative where they grow."""
    omega = math.pow(10.0, min(INDEX_OF[kind](water), 3.0))
    if kind == LIMESTONE:
        return LIMESTONE_CM2_MMOL * _calcite_mmol_cm2_s(water) * (1.0 - math.pow(omega, 2.0 / 3.0))
    beyond = math.sqrt(omega) - 1.0
    if kind == GYPSUM:
        return -GYPSUM_PER_S * beyond * beyond if beyond > 0.0 else GYPSUM_PER_S * (1.0 - omega)
    return -BRUSHITE_PER_S * beyond * beyond if beyond > 0.0 else -BRUSHITE_PER_S * beyond


def seeds_mmol_l_s(kind: int, water: WaterSolver) -> float:
    """Return how fast first grains of `kind` appear in this water, mmol/L/s."""
    return SEEDS_MMOL_L_S if INDEX_OF[kind](water) > APPEARS_ABOVE[kind] else 0.0


def _calcite_mmol_cm2_s(water: WaterSolver) -> float:
    """Return k1 a_H + k2 a_CO2 + k3, activities in mol/kg, as the rate is tabulated."""
    kelvin = water.at.kelvin
    acid = math.pow(10.0, 0.198 - 444.0 / kelvin - water.ph)
    carbonic = math.pow(10.0, 2.84 - 2177.0 / kelvin) * water.co2
    if water.at.temperature_c <= 25.0:
        return acid + carbonic + math.pow(10.0, -5.86 - 317.0 / kelvin)
    return acid + carbonic + math.pow(10.0, -1.1 - 1737.0 / kelvin)
