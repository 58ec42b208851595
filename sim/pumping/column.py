"""What stands in a bottle: a packed bed on its floor, liquid above it in slabs, and solids of each grade.

Everything is in mL, counted upwards from the floor; time and drawing are told by `stock.py`.

Settling: each grade falls from slab to slab at its own free speed, hindered by all grains of the slab that
it falls into (upwind scheme of Buerger, Garcia, Karlsen & Towers, J. Eng. Math. 60 (2008) 387, from memory).
The lowest slab feeds the bed, whose top rises by f / (packed - phi) as Kynch's shock does (Trans. Faraday
Soc. 48 (1952) 166). Slabs keep what they hold when liquid is drawn, so drawing blurs nothing.
Limits: one dimension; the bed has its full density at once, is of one mixture throughout and flows to the
tube like a liquid; no yield stress, which can hold fine grains up for ever; no clumping of grains. Fronts
are blurred over a slab or two: what has been drawn in all is right within 2.5 % of the bottle, a single dose
that catches a front is not (see the tests).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from sim.matter.settling import hindered_share
from sim.pumping.agitation import EVEN_OUT_S, lift_s
from sim.pumping.portion import Portion

LAYERS = 12
PACKED_SHARE = 0.5
"""Volume share of solids in a sediment: loose packing of a powder, assumed (equal spheres: 0.55-0.6)."""
DREGS_ML = 1.0
"""Less liquid than this is too little to tell slabs apart: it no longer settles."""
_ALL_DOWN = 1e-5
"""A grade of which less than this share still floats has settled."""
_DENSE = 0.98
_COURANT = 0.5
_TRACE_ML = 1e-9


@dataclass(frozen=True, slots=True)
class Fall:
    """How one grade falls in this bottle: mL of height a second when alone, and its exponent in company."""

    ml_s: float
    exponent: float


class Column:
    """Bed and slabs of one bottle, even from floor to surface when new."""

    __slots__ = ("_bed_age_ml_s", "_layers", "bed", "falls", "slabs")

    def __init__(
        self, volume_ml: float, solids_ml: list[float], falls: tuple[Fall, ...], layers: int = LAYERS
    ) -> None:
        self.falls = falls
        self._layers = layers
        # Sum over the bed of solids x rest: it gives the mean age, and survives drawing and lifting.
        self._bed_age_ml_s = 0.0
        self.bed = Portion(0.0, [0.0] * len(falls))
        self.slabs = [
            Portion(volume_ml / layers, [amount / layers for amount in solids_ml]) for _ in range(layers)
        ]

    @property
    def volume_ml(self) -> float:
        """All that stands in the bottle."""
        return self.bed.ml + sum(slab.ml for slab in self.slabs)

    @property
    def solids_ml(self) -> list[float]:
        """All solids of each grade."""
        total = Portion(self.bed.ml, self.bed.solids_ml)
        for slab in self.slabs:
            total.add(slab)
        return total.solids_ml

    @property
    def bed_rested_s(self) -> float:
        """How long the grains of the bed have lain there, on average."""
        solids_ml = sum(self.bed.solids_ml)
        return self._bed_age_ml_s / solids_ml if solids_ml > 0.0 else 0.0

    def copy(self) -> Column:
        """Return another column that stands alike."""
        twin = Column(0.0, [0.0] * len(self.falls), self.falls, self._layers)
        twin._bed_age_ml_s = self._bed_age_ml_s
        twin.bed = Portion(self.bed.ml, list(self.bed.solids_ml))
        twin.slabs = [Portion(slab.ml, list(slab.solids_ml)) for slab in self.slabs]
        return twin

    def draw(self, ml: float, below_ml: float) -> Portion:
        """Take liquid where `below_ml` stand under the tube's end; less if too little stands above it."""
        drawn = Portion(0.0, [0.0] * len(self.falls))
        if self.bed.ml > below_ml:
            drawn.add(self._from_bed(min(ml, self.bed.ml - below_ml)))
        bottom_ml, place = self.bed.ml, 0
        while drawn.ml < ml and place < len(self.slabs):
            slab = self.slabs[place]
            reachable_ml = min(bottom_ml + slab.ml - below_ml, slab.ml)
            if reachable_ml > 0.0:
                taken_ml = min(ml - drawn.ml, reachable_ml)
                # Rounding may leave a trace that is no liquid of its own any more.
                drawn.add(slab.split_off(taken_ml if slab.ml - taken_ml > _TRACE_ML else slab.ml))
            if slab.ml <= 0.0:
                del self.slabs[place]
                continue
            bottom_ml += slab.ml
            place += 1
        return drawn

    def pour_in(self, portion: Portion, below_ml: float) -> None:
        """Add liquid through the tube's end, below which `below_ml` stand; it joins the slab there."""
        top_ml = self.bed.ml
        for slab in self.slabs:
            top_ml += slab.ml
            if top_ml >= below_ml:
                slab.add(portion)
                return
        self.slabs.append(portion)

    def agitate(self, dt_s: float) -> None:
        """Lift the bed and even out the liquid (`sim.pumping.agitation`); exact for any `dt_s`."""
        liquid_ml = sum(slab.ml for slab in self.slabs)
        if dt_s <= 0.0 or liquid_ml <= 0.0:
            return
        lifted = self._from_bed(-self.bed.ml * math.expm1(-dt_s / lift_s(self.bed_rested_s)))
        uneven = math.exp(-dt_s / EVEN_OUT_S)
        even = [sum(amounts) for amounts in zip(*(slab.solids_ml for slab in self.slabs), strict=True)]
        for slab in self.slabs:
            share = slab.ml / liquid_ml
            # What is lifted spreads at once; only what was uneven before takes its time.
            slab.solids_ml = [
                mean * share * (1.0 - uneven) + amount * uneven + more * share
                for amount, mean, more in zip(slab.solids_ml, even, lifted.solids_ml, strict=True)
            ]
            slab.ml += lifted.ml * share

    def settle(self, still_s: float) -> None:
        """Let the solids fall."""
        while still_s > 0.0:
            while self.slabs and self.slabs[0].share >= _DENSE * PACKED_SHARE:
                self.bed.add(self.slabs.pop(0))
            liquid_ml = sum(slab.ml for slab in self.slabs)
            moving = self._moving() if liquid_ml > DREGS_ML else []
            if not moving:
                self._bed_age_ml_s += sum(self.bed.solids_ml) * still_s
                return
            self._keep_slabs_alike(liquid_ml)
            thinnest_ml = min(slab.ml for slab in self.slabs)
            dt_s = min(still_s, _COURANT * thinnest_ml / max(self.falls[grade].ml_s for grade in moving))
            self._fall(dt_s, moving)
            still_s -= dt_s

    def _from_bed(self, ml: float) -> Portion:
        """Take some of the bed; what stays keeps its age."""
        left = 1.0 - ml / self.bed.ml if self.bed.ml > ml else 0.0
        self._bed_age_ml_s *= left
        return self.bed.split_off(ml)

    def _moving(self) -> list[int]:
        """Return the grades that still fall."""
        moving = []
        for grade, fall in enumerate(self.falls):
            floating_ml = sum(slab.solids_ml[grade] for slab in self.slabs)
            if fall.ml_s > 0.0 and floating_ml > _ALL_DOWN * (floating_ml + self.bed.solids_ml[grade]):
                moving.append(grade)
        return moving

    def _keep_slabs_alike(self, liquid_ml: float) -> None:
        """Join slabs that have become thin, and halve all when few are left; halving blurs nothing."""
        slabs = self.slabs
        thin_ml = 0.5 * liquid_ml / len(slabs)
        place = 0
        while place < len(slabs) and len(slabs) > 1:
            if slabs[place].ml >= thin_ml:
                place += 1
                continue
            upper = place + 1 if place + 1 < len(slabs) else place
            slabs[upper - 1].add(slabs.pop(upper))
        if 2 * len(slabs) <= self._layers:
            self.slabs = [half for slab in slabs for half in (slab.split_off(0.5 * slab.ml), slab)]

    def _fall(self, dt_s: float, moving: list[int]) -> None:
        """Let the moving grades fall for a time in which none crosses more than half a slab."""
        shares = [slab.share for slab in self.slabs]
        self._feed_bed(dt_s, moving, shares[0])
        lower = self.slabs[0]
        for share_below, upper in zip(shares, self.slabs[1:], strict=False):
            room_ml = PACKED_SHARE * lower.ml - sum(lower.solids_ml)
            falling = self._falling(upper, dt_s, moving, share_below)
            whole_ml = sum(amount for _, amount in falling)
            if room_ml > 0.0 and whole_ml > 0.0:
                fits = min(room_ml / whole_ml, 1.0)
                for grade, amount in falling:
                    upper.solids_ml[grade] -= amount * fits
                    lower.solids_ml[grade] += amount * fits
            lower = upper

    def _falling(
        self, slab: Portion, dt_s: float, moving: list[int], share_below: float
    ) -> list[tuple[int, float]]:
        """Return how much of each moving grade leaves a slab through its bottom, mL."""
        falling = []
        exponent = hindered = 0.0
        for grade in moving:
            fall = self.falls[grade]
            if fall.exponent != exponent:
                exponent = fall.exponent
                hindered = hindered_share(share_below, exponent)
            falling.append((grade, slab.solids_ml[grade] * fall.ml_s * dt_s * hindered / slab.ml))
        return falling

    def _feed_bed(self, dt_s: float, moving: list[int], share: float) -> None:
        """Let the lowest slab settle on the bed, which buries what stood in the room it takes."""
        lowest = self.slabs[0]
        falling = self._falling(lowest, dt_s, moving, share)
        whole_ml = sum(amount for _, amount in falling)
        if whole_ml <= 0.0:
            return
        rise_ml = min(whole_ml / (PACKED_SHARE - share), 0.8 * lowest.ml)
        fits = rise_ml * (PACKED_SHARE - share) / whole_ml
        settled_ml = [amount * rise_ml / lowest.ml for amount in lowest.solids_ml]
        for grade, amount in falling:
            settled_ml[grade] += amount * fits
        self._bed_age_ml_s += dt_s * (sum(self.bed.solids_ml) + 0.5 * sum(settled_ml))
        self.bed.add(Portion(rise_ml, settled_ml))
        lowest.add(Portion(-rise_ml, [-amount for amount in settled_ml]))
