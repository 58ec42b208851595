"""A closed tank of buffered water under titration: the outside on which trims are tried.

Charge balance over carbonate, phosphate, citrate, humic matter and ammonium at 25 °C, concentrations for
activities. Dissociation constants: carbonic 6.352/10.329 (Plummer & Busenberg 1982), phosphoric
2.148/7.198/12.35 and citric 3.128/4.761/6.396 (Goldberg, Kishore & Lennen 2002; phosphoric from memory),
ammonium 9.244 (NIST 46 by way of the PHREEQC databases), water 13.995 (IAPWS 2007), humic acid: eight sites
of pK 4.1 (spread 2.1) and 8.8 (spread 3.6), half as many of the second (Tipping 1998, Model VI; from memory).
It shares no code with the trim. Nights of trimming it are `trimmed_night.py`.
"""

from __future__ import annotations

import math
import random

CARBONIC = (6.352, 10.329)
PHOSPHORIC = (2.148, 7.198, 12.35)
CITRIC = (3.128, 4.761, 6.396)
AMMONIUM = 9.244
WATER = 13.995
HUMIC = (3.05, 3.75, 4.45, 5.15), (7.0, 8.2, 9.4, 10.6)

# Limestone dissolves by k1 a(H) + k2 a(CO2) + k3 in mmol/(cm2 s), far from saturation, at 25 °C (Plummer,
# Wigley & Parkhurst 1978; from memory); the grains are spheres of this size and 2.71 g/cm3, and stay alike.
PER_H, PER_CO2, PER_WATER = 0.0512, 3.45e-5, 1.19e-7
GRAIN_CM = 10e-4
SURFACE_CM2_MMOL = 6.0 / (GRAIN_CM * 2.71) * 0.10009


def constants(pks: tuple[float, ...]) -> tuple[float, ...]:
    """Turn pK into dissociation constants."""
    return tuple(10.0**-pk for pk in pks)


CARBONIC_K, PHOSPHORIC_K, CITRIC_K = constants(CARBONIC), constants(PHOSPHORIC), constants(CITRIC)
HUMIC_K = constants(HUMIC[0]), constants(HUMIC[1])
AMMONIUM_K, WATER_K = 10.0**-AMMONIUM, 10.0**-WATER


def negative_charge(constants: tuple[float, ...], h: float) -> float:
    """Give the mean negative charge of a polyprotic acid at a proton concentration, mol/L."""
    term = weight = 1.0
    charge = 0.0
    for step, constant in enumerate(constants, start=1):
        term *= constant / h
        weight += term
        charge += step * term
    return charge / weight


def humic_charge(h: float) -> float:
    """Give the mean negative charge of one equivalent of humic sites at a proton concentration, mol/L."""
    charge = 0.0
    for weight, sites in zip((2.0, 1.0), HUMIC_K, strict=True):
        for constant in sites:
            charge += weight * constant / (constant + h)
    return charge / 12.0


class TitratedWater:
    """Closed water of given totals (mmol/L, humic meq/L), brought to its first pH by strong ions."""

    def __init__(
        self,
        ph: float,
        *,
        carbonate_mmol_l: float = 0.0,
        phosphate_mmol_l: float = 0.0,
        citrate_mmol_l: float = 0.0,
        ammonium_mmol_l: float = 0.0,
        humic_meq_l: float = 0.0,
    ) -> None:
        self.carbonate_mmol_l = carbonate_mmol_l
        self.phosphate_mmol_l = phosphate_mmol_l
        self.citrate_mmol_l = citrate_mmol_l
        self.ammonium_mmol_l = ammonium_mmol_l
        self.humic_meq_l = humic_meq_l
        self.limestone_mmol_l = 0.0
        self.strong_meq_l = self._weak_charge_meq_l(ph)
        self._ph = ph

    def add_citric(self, mmol_l: float) -> None:
        """Add citric acid."""
        self.citrate_mmol_l += mmol_l

    def add_phosphoric(self, mmol_l: float) -> None:
        """Add phosphoric acid."""
        self.phosphate_mmol_l += mmol_l

    def add_strong(self, meq_l: float) -> None:
        """Add strong base (or strong acid, negative)."""
        self.strong_meq_l += meq_l

    def add_limestone(self, mmol_l: float) -> None:
        """Add calcium carbonate that has yet to dissolve."""
        self.limestone_mmol_l += mmol_l

    def wait(self, for_s: float) -> None:
        """Let limestone dissolve, in steps over which pH hardly moves."""
        steps = 4 if self.limestone_mmol_l > 0.0 else 0
        for _ in range(steps):
            h = 10.0 ** -self.ph()
            co2 = self.carbonate_mmol_l / 1000.0 / (1.0 + 10.0 ** -CARBONIC[0] / h)
            per_s = (PER_H * h + PER_CO2 * co2 + PER_WATER) * SURFACE_CM2_MMOL
            gone = self.limestone_mmol_l * -math.expm1(-per_s * for_s / steps)
            self.limestone_mmol_l -= gone
            self.carbonate_mmol_l += gone
            self.strong_meq_l += 2.0 * gone

    def ph(self) -> float:
        """Find the pH at which the charges balance (regula falsi, Illinois, inside a bracket)."""
        low, high = 1.0, 13.0
        at = self._ph
        for width in (0.05, 0.5, 2.0):
            if at - width < low or at + width > high:
                break
            if self._excess(at - width) < 0.0 < self._excess(at + width):
                low, high = at - width, at + width
                break
        below, above = self._excess(low), self._excess(high)
        for _ in range(100):
            if high - low < 1e-7:
                break
            middle = (low * above - high * below) / (above - below)
            if not low < middle < high:
                middle = (low + high) / 2.0
            excess = self._excess(middle)
            if abs(excess) < 1e-12:
                low = high = middle
            elif excess < 0.0:
                low, below, above = middle, excess, above / 2.0
            else:
                high, above, below = middle, excess, below / 2.0
        self._ph = (low + high) / 2.0
        return self._ph

    def _excess(self, ph: float) -> float:
        """Give how much more charge the weak acids carry at a pH than there is."""
        return self._weak_charge_meq_l(ph) - self.strong_meq_l

    def _weak_charge_meq_l(self, ph: float) -> float:
        h = 10.0**-ph
        charge = 1000.0 * (WATER_K / h - h)
        for amount, constants_of in (
            (self.carbonate_mmol_l, CARBONIC_K),
            (self.phosphate_mmol_l, PHOSPHORIC_K),
            (self.citrate_mmol_l, CITRIC_K),
        ):
            if amount:
                charge += amount * negative_charge(constants_of, h)
        if self.humic_meq_l:
            charge += self.humic_meq_l * humic_charge(h)
        return charge - self.ammonium_mmol_l * h / (h + AMMONIUM_K)


def log_even(rng: random.Random, low: float, high: float) -> float:
    """Draw between two amounts, evenly in the logarithm."""
    return low * math.pow(high / low, rng.random())


def random_water(rng: random.Random, ph: float) -> TitratedWater:
    """Draw a water: carbonate 0.3 to 4 mmol/L and phosphate 0.1 to 3 mmol/L, each evenly in its logarithm."""
    return TitratedWater(
        ph, carbonate_mmol_l=log_even(rng, 0.3, 4.0), phosphate_mmol_l=log_even(rng, 0.1, 3.0)
    )


def organic_water(rng: random.Random, ph: float) -> TitratedWater:
    """Draw one that also holds citrate up to 1, ammonium up to 3 mmol/L and humic matter up to 2 meq/L."""
    return TitratedWater(
        ph,
        carbonate_mmol_l=log_even(rng, 0.3, 4.0),
        phosphate_mmol_l=log_even(rng, 0.1, 3.0),
        citrate_mmol_l=rng.uniform(0.0, 1.0),
        ammonium_mmol_l=rng.uniform(0.0, 3.0),
        humic_meq_l=rng.uniform(0.0, 2.0),
    )


def nearly(water: TitratedWater, rng: random.Random, ph: float) -> TitratedWater:
    """Make last night's water: the same supply and recipe, each amount within about a tenth."""
    return TitratedWater(
        ph + rng.gauss(0.0, 0.15),
        carbonate_mmol_l=water.carbonate_mmol_l * rng.gauss(1.0, 0.1),
        phosphate_mmol_l=water.phosphate_mmol_l * rng.gauss(1.0, 0.1),
        citrate_mmol_l=water.citrate_mmol_l * rng.gauss(1.0, 0.1),
        ammonium_mmol_l=water.ammonium_mmol_l * rng.gauss(1.0, 0.1),
        humic_meq_l=water.humic_meq_l * rng.gauss(1.0, 0.1),
    )
