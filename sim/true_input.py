"""What an input of the simulated world really holds, described or guessed. No file is read here."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from controller.settings.values import Carried, Form, Input, Reaction
from sim.matter.grains import EXCESS_G_MMOL
from sim.matter.ions import EXCESS, FOAMER, HEAT, INDEX, INERT, parcel
from sim.matter.viscosity import carrier_viscosity_mpa_s, thickening_share
from sim.pumping.stock import Suspended


@dataclass(frozen=True, slots=True)
class TrueInput:
    """What a millilitre of an input really holds: what is dissolved, and its grains at their label share.

    Both are parcels (`sim.matter.ions.PARCEL`), with their share of the mass above water.
    """

    dissolved_ml: tuple[float, ...]
    grains_ml: tuple[float, ...]
    suspended: Suspended | None
    viscosity_mpa_s: float = 1.0

    def suspended_at(self, temperature_c: float) -> Suspended | None:
        """Return what settles in its bottle in a room that warm."""
        return self.suspended.at(temperature_c) if self.suspended is not None else None

    def apparent_viscosity_mpa_s(self, solids_share: float = 1.0, temperature_c: float = 20.0) -> float:
        """Return how thick it is with its grains at `solids_share` of the label, mPa.s.

        `viscosity_mpa_s` is what it is as labelled at 20 deg C; see `sim.matter.viscosity` for both changes.
        """
        thick = carrier_viscosity_mpa_s(self.viscosity_mpa_s, temperature_c)
        if self.suspended is None:
            return thick
        labelled = self.suspended.volume_share
        return thick * thickening_share(solids_share * labelled) / thickening_share(labelled)

    def content(self, ml: float, solids_share: float, temperature_c: float) -> list[float]:
        """Return the parcel of `ml` with its grains at `solids_share` of the label, their volume counted.

        Grains take the place of liquid: (1 - s phi) / (1 - phi) of the label's liquid is left beside them.
        """
        liquid_share = 1.0
        if self.suspended is not None:
            labelled = self.suspended.volume_share
            liquid_share = max(1.0 - solids_share * labelled, 0.0) / (1.0 - labelled)
        content = [
            ml * (liquid_share * dissolved + solids_share * grains)
            for dissolved, grains in zip(self.dissolved_ml, self.grains_ml, strict=True)
        ]
        content[HEAT] = ml * 1e-3 * temperature_c
        return content


@dataclass(frozen=True, slots=True)
class Composition:
    """An input as described: dissolved amounts, one kind of solid, its grain. Zeros mean nothing of it.

    `solid_mmol_ml` is for minerals; what is inert has the amount that its volume and density give.

    `grain_um` is the size that halves the solids' volume, `grain_spread` their geometric standard deviation
    (1 = all alike; 1.6 for a milled powder: assumed).
    """

    mmol_ml: Mapping[str, float]
    solid: str = ""
    solid_mmol_ml: float = 0.0
    solid_volume_share: float = 0.12
    grain_um: float = 20.0
    grain_kg_l: float = 2.5
    grain_spread: float = 1.6

    def liquid_kg_l(self, of: Input) -> float:
        """Return what a litre of the liquid between the grains weighs, by the label's density."""
        share = self.solid_volume_share if self.solid else 0.0
        return (of.density_kg_l - share * self.grain_kg_l) / (1.0 - share)

    def true_input(self, of: Input) -> TrueInput:
        """Return what the input holds; its label tells how thick it is with its grains, at 20 deg C."""
        suspended = None
        excess_g_ml, grains_excess_g_ml = of.density_kg_l - 1.0, 0.0
        grains = {}
        if self.solid:
            kind, weighs_g_ml = INDEX[self.solid], max(self.solid_volume_share * (self.grain_kg_l - 1.0), 0.0)
            # What is inert is counted by its weight; a mineral weighs what its amount weighs.
            mmol_ml = weighs_g_ml / EXCESS_G_MMOL[kind] if kind == INERT else self.solid_mmol_ml
            grains, grains_excess_g_ml = {self.solid: mmol_ml}, mmol_ml * EXCESS_G_MMOL[kind]
            suspended = Suspended(
                self.grain_um,
                self.grain_kg_l,
                self.solid_volume_share,
                self.liquid_kg_l(of),
                of.viscosity_mpa_s / thickening_share(self.solid_volume_share),
                self.grain_spread,
            )
        dissolved, solid = parcel(self.mmol_ml), parcel(grains)
        dissolved[EXCESS], solid[EXCESS] = excess_g_ml - grains_excess_g_ml, grains_excess_g_ml
        dissolved[FOAMER] = 1.0 if of.foams else 0.0
        return TrueInput(tuple(dissolved), tuple(solid), suspended, of.viscosity_mpa_s)


def likely_composition(of: Input) -> Composition:
    """Return what an input probably holds, from its form, reaction and what it carries."""
    if of.reaction is Reaction.ACID:
        return Composition({"citrate": 1.0})
    if of.reaction is Reaction.BASE and of.form is Form.SUSPENSION:
        return Composition({}, "limestone", 3.0, 0.11, 10.0, 2.71)
    if of.reaction is Reaction.BASE:
        return Composition({"K": 1.0, "carbonate": 1.0})
    if of.form is Form.SUSPENSION and {Carried.CALCIUM, Carried.SULFATE} <= of.carries:
        return Composition({"Ca": 0.015, "SO4": 0.015}, "gypsum", 1.6, 0.12, 20.0, 2.32)
    if of.form is Form.SUSPENSION:
        return Composition({}, "inert", 1.0, 0.12, 25.0, 2.7)
    return Composition({"K": 0.1, "Cl": 0.09, "carbonate": 0.011})
