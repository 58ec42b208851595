"""The water of a batch: how the final volume is shared between heel, water, rinses, additions and trims.

final = heel + water + rinses + additions + reserve for the trims, to the last nanolitre. How large the
reserve is says `reserve.py`. Nothing is judged here; `limits.py` does.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from controller.settings.values import Recipe, Site

# How far above the low float a still tank must stand, so that filling and stirring do not lower the float
# (from simulated fills, no source).
STIR_COVER_L = 1.0


@dataclass(frozen=True, slots=True)
class Portion:
    """What one addition brings into the tank: its own amount and the rinse water behind it."""

    ml: float
    rinses: int
    rinse_ml: float
    living: bool

    @property
    def brings_l(self) -> float:
        """Return its whole volume, L."""
        return (self.ml + self.rinses * self.rinse_ml) / 1000.0


@dataclass(frozen=True, slots=True)
class WaterShares:
    """Contents of the tank at the turning points of the fill, and the water that makes them, L."""

    final_l: float
    heel_l: float
    first_fill_l: float
    before_top_up_l: float
    top_up_to_l: float
    water_l: float
    rinse_l: float
    reserve_l: float


def share_water(
    recipe: Recipe, final_l: float, heel_l: float, portions: tuple[Portion, ...], reserve_l: float
) -> WaterShares:
    """Share the final volume out. `water_l` may come out negative: then the batch does not fit."""
    rinse_l = math.fsum(portion.rinses * portion.rinse_ml / 1000.0 for portion in portions)
    brought_l = math.fsum(portion.brings_l for portion in portions)
    living_l = math.fsum(portion.brings_l for portion in portions if portion.living)
    first_fill_l = max(recipe.first_fill_share * final_l, heel_l)
    return WaterShares(
        final_l=final_l,
        heel_l=heel_l,
        first_fill_l=first_fill_l,
        before_top_up_l=first_fill_l + brought_l - living_l,
        top_up_to_l=final_l - living_l - reserve_l,
        water_l=final_l - heel_l - brought_l - reserve_l,
        rinse_l=rinse_l,
        reserve_l=reserve_l,
    )


def contents_after(shares: WaterShares, portions: tuple[Portion, ...]) -> tuple[float, ...]:
    """Return the content of the tank, L, after each addition and its rinses, in order.

    What lives goes in after the trims, and the reserve counts as used by then.
    """
    contents = []
    content_l = shares.first_fill_l
    topped_up = False
    for portion in portions:
        if portion.living and not topped_up:
            content_l, topped_up = shares.top_up_to_l + shares.reserve_l, True
        content_l += portion.brings_l
        contents.append(content_l)
    return tuple(contents)


def holds_after_first_fill(site: Site, shares: WaterShares) -> bool:
    """Say whether the first fill covers the stir pump, with room for waves and the end of a fill."""
    return shares.first_fill_l >= site.rig.tank.low_float_l + STIR_COVER_L
