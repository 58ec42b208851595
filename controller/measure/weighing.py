"""What left a bottle, by the scale under it: a still weight, the mL between two, and how sure that is.

Pure. Uncertainty after JCGM 100:2008 (GUM): standard uncertainties add in squares and are expanded by k = 2.
Which samples are taken, and when, is said elsewhere.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass

SAMPLES = 5
SAMPLE_S = 1.0
"""One still weight is the mean of so many samples, so far apart."""
RESOLUTION_G = 1.0
SCATTER_G = 2.0
SLOPE_G_S = 0.75
"""Still is what scatters (standard deviation) and slopes by no more than this: several times what a sound
cell shows at rest, far less than a hand on it or a running agitator (assumed)."""
GLITCH_G = 5.0
"""One sample of a window may be further off the median than this, and is left out."""
SPAN_SHARE = 0.001
CREEP_SHARE = 0.0005
"""A load cell's span error and creep, as shares of the change of load (half widths; assumed, typical of
simple cells)."""
DENSITY_SHARE = 0.005
"""Half width of the doubt of a density in inputs.toml: its last written digit (assumed)."""
AIR_KG_L = 0.0012
WEIGHTS_KG_L = 8.0
"""Air and calibration weights (conventional values, OIML D 28), for the buoyancy of air."""
COVERAGE = 2.0
BROKEN_SHARE = 0.25
TUBE_HOLDS_ML = 100.0
"""No suction tube holds more (assumed)."""
DOUBTS = 2.5
"""Five standard uncertainties, in expanded ones: by chance once in some millions of doses."""


@dataclass(frozen=True, slots=True)
class StillWeight:
    """A weight at rest, g, and its standard uncertainty of noise and resolution."""

    grams: float
    standard_g: float


@dataclass(frozen=True, slots=True)
class WeighedAmount:
    """What left between two still weights: mL, and the expanded uncertainty (k = 2)."""

    before_g: float
    after_g: float
    ml: float
    uncertainty_ml: float


def still_weight(samples: Sequence[tuple[float, float]]) -> StillWeight | None:
    """Give the mean of a window of (s, g), or None when too few samples agree or it was not at rest.

    One glitch is left out; what slopes or scatters (a person leaning, an agitator, a bottle running out) is
    refused, and so is a window of fewer than `SAMPLES` samples.
    """
    if len(samples) < SAMPLES:
        return None
    middle_g = statistics.median(g for _, g in samples)
    kept = [(at_s, g) for at_s, g in samples if abs(g - middle_g) <= GLITCH_G]
    if len(kept) < len(samples) - 1:
        return None
    mean_s = statistics.fmean(at_s for at_s, _ in kept)
    mean_g = statistics.fmean(g for _, g in kept)
    spread = sum((at_s - mean_s) ** 2 for at_s, _ in kept)
    scatter_g = statistics.stdev(g for _, g in kept)
    if spread <= 0.0 or scatter_g > SCATTER_G:
        return None
    slope = sum((at_s - mean_s) * (g - mean_g) for at_s, g in kept) / spread
    if abs(slope) > SLOPE_G_S:
        return None
    # Noise smaller than the resolution hides in it: the samples may all show the same gram.
    standard_g = math.sqrt(scatter_g**2 / len(kept) + _half_width(RESOLUTION_G / 2.0) ** 2)
    return StillWeight(mean_g, standard_g)


def millilitres(weight_g: float, density_kg_l: float) -> float:
    """Give the volume of a weight that a scale shows in air.

    V = m (1 - a/w) / (d - a) with a air, w weights, d liquid, kg/L: the Z factor of ISO 8655-6 at the
    liquid's own temperature. ValueError unless `density_kg_l` is above that of air.
    """
    if not density_kg_l > AIR_KG_L:
        raise ValueError(f"no density of a liquid: {density_kg_l} kg/L")
    return weight_g * (1.0 - AIR_KG_L / WEIGHTS_KG_L) / (density_kg_l - AIR_KG_L)


def grams(ml: float, density_kg_l: float) -> float:
    """Give the weight that a scale shows in air for a volume; the reverse of `millilitres`."""
    return ml * (density_kg_l - AIR_KG_L) / (1.0 - AIR_KG_L / WEIGHTS_KG_L)


def weighed_amount(before: StillWeight, after: StillWeight, density_kg_l: float) -> WeighedAmount:
    """Give what left the bottle between two still weights; below 0 when it became heavier."""
    lost_g = before.grams - after.grams
    ml = millilitres(lost_g, density_kg_l)
    reading_g = math.hypot(before.standard_g, after.standard_g)
    cell_g = math.hypot(_half_width(SPAN_SHARE * lost_g), _half_width(CREEP_SHARE * lost_g))
    standard_ml = math.hypot(
        millilitres(math.hypot(reading_g, cell_g), density_kg_l), _half_width(DENSITY_SHARE * ml)
    )
    return WeighedAmount(before.grams, after.grams, ml, COVERAGE * standard_ml)


def scale_is_believed(weighed: WeighedAmount, counted_ml: float, counted_uncertainty_ml: float) -> bool:
    """Say whether the weighed amount is the one to record, and not the counted one (uncertainties k = 2).

    It is where its doubt is the smaller, and where the two contradict each other: counts tell how the rotor
    turned, and nothing of what it moved.
    """
    apart_ml = abs(weighed.ml - counted_ml)
    contradict = apart_ml > math.hypot(weighed.uncertainty_ml, counted_uncertainty_ml)
    return contradict or weighed.uncertainty_ml <= counted_uncertainty_ml


def in_the_tube_ml(counted_ml: float, weighed_ml: float) -> float:
    """Give what may have come besides the weighed amount of a dose that did not leave its bottle, mL.

    The pump may have emptied its suction tube into the tank instead. A dose of which less than
    `BROKEN_SHARE` is missing was metered by the tube as it is.
    """
    missing_ml = counted_ml - weighed_ml
    return min(missing_ml, TUBE_HOLDS_ML) if missing_ml > BROKEN_SHARE * counted_ml else 0.0


def beyond_doubt(difference_ml: float, uncertainty_ml: float) -> bool:
    """Say whether a difference above 0 is more than five standard uncertainties (given expanded, k = 2)."""
    return difference_ml > DOUBTS * uncertainty_ml


def _half_width(half: float) -> float:
    """Give the standard uncertainty of a value that is equally likely anywhere within +-`half`."""
    return abs(half) / math.sqrt(3.0)
