"""The simulated world of a site: what is true there, as frozen values with sensible stand-ins.

Read from simulated.toml by `world_file.py`. No behaviour lives here beyond making parcels of liquid.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from controller.settings.values import Carried, Form, Input, Reaction
from sim.ions import HEAT, parcel
from sim.stock import Suspended

TAP_WATER_MMOL_L = {
    "Ca": 1.1,
    "Mg": 0.25,
    "Na": 0.6,
    "K": 0.05,
    "Cl": 0.7,
    "SO4": 0.25,
    "NO3": 0.15,
    "carbonate": 2.12,
}


@dataclass(frozen=True, slots=True)
class Room:
    """The air around the tank."""

    temperature_c: float = 18.0
    cooling_hours: float = 24.0
    co2_ppm: float = 420.0


@dataclass(frozen=True, slots=True)
class SupplyWater:
    """The supply as it really is; `flow_share` is of the rated flow, `mmol_l` is a parcel for one litre."""

    temperature_c: float = 15.5
    flow_share: float = 0.96
    meter_error: float = 0.004
    mmol_l: tuple[float, ...] = tuple(parcel(TAP_WATER_MMOL_L))

    def content(self, ml: float) -> list[float]:
        """Return the parcel of so much supply water."""
        content = [amount * ml * 1e-3 for amount in self.mmol_l]
        content[HEAT] = ml * 1e-3 * self.temperature_c
        return content


@dataclass(frozen=True, slots=True)
class TrueProbe:
    """The pH electrode as it really is."""

    offset_mv: float = 5.0
    slope_share: float = 0.976
    lag_s: float = 8.0
    noise_mv: float = 0.15
    stray_mv: float = 1.5


@dataclass(frozen=True, slots=True)
class TruePumps:
    """How far any pump may be off its last weighing, as a share."""

    calibration_error: float = 0.01


@dataclass(frozen=True, slots=True)
class Bottles:
    """How every bottle stands: hours since it was stirred, tube and shape."""

    stood_hours: float = 12.0
    line_ml: float = 5.0
    tube_cm: float = 1.5
    area_cm2: float = 300.0


@dataclass(frozen=True, slots=True)
class TrueInput:
    """What a millilitre of an input really holds: dissolved mmol, grains (mmol, at their label share)."""

    dissolved_ml: tuple[float, ...]
    grains_ml: tuple[float, ...]
    suspended: Suspended | None

    def content(self, ml: float, solids_share: float, temperature_c: float) -> list[float]:
        """Return the parcel of `ml` with its grains at `solids_share` of the label."""
        content = [
            ml * (dissolved + solids_share * grains)
            for dissolved, grains in zip(self.dissolved_ml, self.grains_ml, strict=True)
        ]
        content[HEAT] = ml * 1e-3 * temperature_c
        return content


@dataclass(frozen=True, slots=True)
class World:
    """Everything that is true in the simulated world of one site."""

    room: Room = Room()
    supply: SupplyWater = field(default_factory=SupplyWater)
    probe: TrueProbe = TrueProbe()
    pumps: TruePumps = TruePumps()
    bottles: Bottles = Bottles()
    inputs: Mapping[str, TrueInput] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Composition:
    """An input as described: dissolved amounts, one kind of solid, its grain. Zeros mean nothing of it."""

    mmol_ml: Mapping[str, float]
    solid: str = ""
    solid_mmol_ml: float = 0.0
    solid_volume_share: float = 0.12
    grain_um: float = 20.0
    grain_kg_l: float = 2.5

    def true_input(self, of: Input) -> TrueInput:
        """Return what the input holds; the liquid around its grains is as thick as the label says it is."""
        suspended = None
        grains = {}
        if self.solid:
            grains = {self.solid: self.solid_mmol_ml}
            liquid_kg_l = (of.density_kg_l - self.solid_volume_share * self.grain_kg_l) / (
                1.0 - self.solid_volume_share
            )
            suspended = Suspended(
                self.grain_um, self.grain_kg_l, self.solid_volume_share, liquid_kg_l, of.viscosity_mpa_s
            )
        return TrueInput(tuple(parcel(self.mmol_ml)), tuple(parcel(grains)), suspended)


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
