"""A bottle of concentrate: it settles unless agitated, and runs dry at the end of its dip tube.

Layers of equal height; solids fall from layer to layer (one middling grain, hindered), agitation evens them
out, and the dip tube draws from the layer it stands in. Time that nobody looks at costs nothing: it is
caught up when liquid is drawn. Limits: one grain size, no compression of the sediment, sediment flows like
liquid.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from sim.settling import hindered_share, terminal_velocity_m_s

LAYERS = 10
# Less than this in a bottle is too little to tell layers apart.
DREGS_ML = 1.0
PACKED_SHARE = 0.5
"""Volume share of solids at which a sediment no longer settles (loose random packing, order of magnitude)."""


@dataclass(frozen=True, slots=True)
class Suspended:
    """What settles in a bottle: grain, its density, its volume share as labelled, the liquid around it."""

    grain_um: float
    grain_kg_l: float
    volume_share: float
    liquid_kg_l: float
    liquid_mpa_s: float

    @property
    def free_fall_m_s(self) -> float:
        """Settling speed of one grain alone, m/s."""
        return terminal_velocity_m_s(
            self.grain_um * 1e-6,
            self.grain_kg_l * 1e3,
            self.liquid_kg_l * 1e3,
            self.liquid_mpa_s * 1e-3,
        )


@dataclass(frozen=True, slots=True)
class Drawn:
    """What came up a tube: liquid, mL, and its solids as a share of the label (1 = as labelled)."""

    ml: float
    solids_share: float


class Stock:
    """One bottle. `suspended` is None for a solution, which never changes. A new bottle is well shaken."""

    __slots__ = (
        "_still_s",
        "agitate_tau_s",
        "area_m2",
        "layers",
        "suspended",
        "unreachable_ml",
        "volume_ml",
    )

    def __init__(
        self,
        volume_ml: float,
        suspended: Suspended | None = None,
        area_cm2: float = 300.0,
        unreachable_ml: float = 450.0,
        agitate_tau_s: float = 8.0,
    ) -> None:
        self.volume_ml = volume_ml
        self.suspended = suspended
        self.area_m2 = area_cm2 * 1e-4
        self.unreachable_ml = unreachable_ml
        self.agitate_tau_s = agitate_tau_s
        self.layers = [1.0] * LAYERS
        self._still_s = 0.0

    @property
    def height_m(self) -> float:
        """Height of the liquid."""
        return self.volume_ml * 1e-6 / self.area_m2

    @property
    def tube_m(self) -> float:
        """Height of the end of the dip tube above the floor."""
        return self.unreachable_ml * 1e-6 / self.area_m2

    @property
    def reachable_ml(self) -> float:
        """What stands above the end of the dip tube."""
        return max(self.volume_ml - self.unreachable_ml, 0.0)

    def advance(self, dt_s: float, agitated: bool) -> None:
        """Let time pass, with the agitator running or not."""
        if self.suspended is None or dt_s <= 0.0:
            return
        if not agitated:
            self._still_s += dt_s
            return
        self._catch_up()
        left = math.exp(-dt_s / self.agitate_tau_s)
        mean = sum(self.layers) / LAYERS
        self.layers = [mean + (share - mean) * left for share in self.layers]

    def draw(self, ml: float) -> Drawn:
        """Draw up to `ml` through the dip tube; less when the liquid falls below its end.

        Raises ValueError for a negative amount.
        """
        if ml < 0.0:
            raise ValueError(f"cannot draw {ml} mL")
        taken_ml = min(ml, self.reachable_ml)
        if self.suspended is None or taken_ml <= 0.0:
            self.volume_ml -= taken_ml
            return Drawn(taken_ml, 1.0)
        self._catch_up()
        left_ml, solids = taken_ml, 0.0
        while left_ml > 0.0:
            if self.volume_ml <= DREGS_ML:
                solids += left_ml * self._draw_dregs(left_ml)
                break
            piece_ml = min(left_ml, 0.5 * self.volume_ml / LAYERS)
            solids += piece_ml * self._draw_piece(piece_ml)
            left_ml -= piece_ml
        return Drawn(taken_ml, solids / taken_ml)

    def _draw_dregs(self, ml: float) -> float:
        """Take from what little is left, as one layer; return its share of solids."""
        mean = sum(self.layers) / LAYERS
        self.layers = [mean] * LAYERS
        self.volume_ml = max(self.volume_ml - ml, 0.0)
        return mean

    def _draw_piece(self, ml: float) -> float:
        """Take at most half a layer from where the tube stands; return its share of solids."""
        place = LAYERS - 1 - min(int(self.tube_m / self.height_m * LAYERS), LAYERS - 1)
        layers = self.layers
        layer_ml = self.volume_ml / LAYERS
        share = layers[place]
        # Every layer shrinks by the same volume; what a layer above or below gives up flows towards the tube.
        solids = [value * layer_ml for value in layers]
        solids[place] -= share * ml
        for above in range(place):
            moved = layers[above] * ml * (above + 1) / LAYERS
            solids[above] -= moved
            solids[above + 1] += moved
        for below in range(LAYERS - 1, place, -1):
            moved = layers[below] * ml * (LAYERS - below) / LAYERS
            solids[below] -= moved
            solids[below - 1] += moved
        self.volume_ml -= ml
        shrunk_ml = layer_ml - ml / LAYERS
        self.layers = [value / shrunk_ml for value in solids]
        return share

    def _catch_up(self) -> None:
        """Let the solids fall for the time that nobody looked."""
        still_s, self._still_s = self._still_s, 0.0
        what = self.suspended
        if still_s <= 0.0 or what is None or self.volume_ml <= DREGS_ML:
            return
        layer_m = self.height_m / LAYERS
        free = what.free_fall_m_s
        if free <= 0.0:
            return
        packed = PACKED_SHARE / what.volume_share
        step_s = 0.4 * layer_m / free
        while still_s > 0.0:
            dt_s = min(step_s, still_s)
            still_s -= dt_s
            if not self._fall(free * dt_s / layer_m, what.volume_share, packed):
                return

    def _fall(self, courant: float, volume_share: float, packed: float) -> bool:
        """Let solids fall one step; return whether anything still moved."""
        layers = self.layers
        moved_most = 0.0
        for lower in range(LAYERS - 1, 0, -1):
            upper = lower - 1
            share = layers[upper]
            moved = share * courant * hindered_share(share * volume_share)
            moved = min(moved, max(packed - layers[lower], 0.0))
            layers[upper] = share - moved
            layers[lower] += moved
            moved_most = max(moved_most, moved)
        return moved_most > 1e-7
