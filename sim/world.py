"""The simulated world of a site: what is true there, as frozen values with sensible stand-ins.

`load_world` fills it from simulated.toml by way of `world_file.py`; what is missing there is no fault.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from typing import Any

from controller.settings.faults import SiteFaults
from controller.settings.values import Site
from sim.day_swing import swung_c
from sim.matter.ions import HEAT, parcel
from sim.true_input import Composition, TrueInput, likely_composition
from sim.true_instruments import (
    TrueCell,
    TrueFlowMeter,
    TrueLevel,
    TrueProbe,
    TrueScales,
    TrueThermometers,
)
from sim.world_agrees import check_composition, check_supply, check_swing
from sim.world_file import MOST_MMOL_ML, WorldFile

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
    """The air around the tank, and what its stir pump leaves in the water (assumed).

    `swing_k` is how far its temperature swings either way over a day (`day_swing.py`).
    """

    temperature_c: float = 18.0
    cooling_hours: float = 24.0
    co2_ppm: float = 420.0
    swing_k: float = 0.0
    stir_heat_w: float = 40.0


@dataclass(frozen=True, slots=True)
class SupplyWater:
    """The supply as it really is; `flow_share` is of the rated flow, `mmol_l` is a parcel for one litre."""

    temperature_c: float = 15.5
    flow_share: float = 0.96
    meter_error: float = 0.004
    mmol_l: tuple[float, ...] = tuple(parcel(TAP_WATER_MMOL_L))
    swing_k: float = 0.0

    def at_c(self, age_s: float) -> float:
        """Return its temperature so long after the start of the night."""
        return swung_c(self.temperature_c, self.swing_k, age_s)

    def content(self, ml: float, age_s: float = 0.0) -> list[float]:
        """Return the parcel of so much supply water, so long after the start of the night."""
        content = [amount * ml * 1e-3 for amount in self.mmol_l]
        content[HEAT] = ml * 1e-3 * self.at_c(age_s)
        return content


OFFSET_DRIFT_MV = 1.0
SLOPE_DRIFT = 0.996
"""Where nothing is said an electrode is so far off its calibration; a second one's offset the other way."""
PROBE_BELOW_FLOAT = 0.7
"""Where nothing is said the probe hangs at this share of the low float's height, so that it stays wet."""


@dataclass(frozen=True, slots=True)
class TruePumps:
    """How far any pump may be off its last weighing, as a share."""

    calibration_error: float = 0.01


@dataclass(frozen=True, slots=True)
class Bottles:
    """How every bottle stands: hours since it was stirred, content and length of its line, width, height.

    Inputs thicker than `thick_mpa_s` have a wider line of the same length, which holds `thick_line_ml`. The
    rinse water's can is full with `rinse_can_l` as the night begins.
    `above_tank_m`: the bottles' floor above the outlet of the dosing line over the tank; so low that not even
    a failed tube lets a bottle run into the tank.
    """

    stood_hours: float = 12.0
    line_ml: float = 25.0
    line_m: float = 0.7
    thick_mpa_s: float = 200.0
    thick_line_ml: float = 80.0
    area_cm2: float = 300.0
    above_tank_m: float = -0.6
    rinse_can_l: float = 20.0


@dataclass(frozen=True, slots=True)
class World:
    """Everything that is true in the simulated world of one site; no `second_probe` where none is fitted."""

    room: Room = Room()
    supply: SupplyWater = field(default_factory=SupplyWater)
    probe: TrueProbe = field(default_factory=TrueProbe)
    pumps: TruePumps = TruePumps()
    bottles: Bottles = Bottles()
    inputs: Mapping[str, TrueInput] = field(default_factory=dict)
    cell: TrueCell = field(default_factory=TrueCell)
    level: TrueLevel = field(default_factory=TrueLevel)
    thermometers: TrueThermometers = field(default_factory=TrueThermometers)
    flow_meter: TrueFlowMeter = field(default_factory=TrueFlowMeter)
    scales: TrueScales = field(default_factory=TrueScales)
    second_probe: TrueProbe | None = None


_TABLES = {
    "room": Room,
    "supply": SupplyWater,
    "ph_probe": TrueProbe,
    "second_ph_probe": TrueProbe,
    "pumps": TruePumps,
    "bottles": Bottles,
    "conductivity_cell": TrueCell,
    "level_sensor": TrueLevel,
    "thermometers": TrueThermometers,
    "flow_meter": TrueFlowMeter,
    "scales": TrueScales,
}


def load_world(site: Site) -> World:
    """Read the simulated world of a site. Raises SiteFaults with every fault of the file."""
    file = WorldFile(site.folder)
    file.refuse_unknown("", file.table, (*_TABLES, "inputs"))
    values = {name: _values(file, name, of) for name, of in _TABLES.items()}
    second = site.rig.second_probe
    for name, calibrated, drift_mv in (
        ("ph_probe", site.rig.probe, OFFSET_DRIFT_MV),
        ("second_ph_probe", second or site.rig.probe, -OFFSET_DRIFT_MV),
    ):
        values[name].setdefault("offset_mv", calibrated.offset_mv + drift_mv)
        values[name].setdefault("slope_share", calibrated.slope_share * SLOPE_DRIFT)
        values[name].setdefault("isopotential_ph", calibrated.isopotential_ph)
    low_float_mm = site.rig.tank.low_float_l / (math.pi / 4 * site.rig.tank.diameter_m**2)
    values["ph_probe"].setdefault("probe_height_mm", PROBE_BELOW_FLOAT * low_float_mm)
    values["second_ph_probe"].setdefault("probe_height_mm", values["ph_probe"]["probe_height_mm"])
    compositions = _compositions(file, site)
    room, supply = Room(**values["room"]), SupplyWater(**values["supply"])
    if not file.faults:
        check_swing(file, "room", room.temperature_c, room.swing_k)
        check_swing(file, "supply", supply.temperature_c, supply.swing_k)
        check_supply(file, supply.mmol_l, supply.temperature_c)
        described = file.table.get("inputs", {})
        for name, holds in compositions.items():
            check_composition(file, site.inputs[name], described.get(name, {}), holds)
    if file.faults:
        raise SiteFaults(file.faults)
    return World(
        room,
        supply,
        TrueProbe(**values["ph_probe"]),
        TruePumps(**values["pumps"]),
        Bottles(**values["bottles"]),
        {name: compositions[name].true_input(of) for name, of in site.inputs.items()},
        TrueCell(**values["conductivity_cell"]),
        TrueLevel(**values["level_sensor"]),
        TrueThermometers(**values["thermometers"]),
        TrueFlowMeter(**values["flow_meter"]),
        TrueScales(**values["scales"]),
        None if second is None else TrueProbe(**values["second_ph_probe"]),
    )


def _values(file: WorldFile, name: str, of: type[Any]) -> dict[str, Any]:
    """Return the lines of one table, ready for its dataclass."""
    table = file.section(file.table, name, name)
    values: dict[str, Any] = dict(file.numbers(name, table, [line.name for line in fields(of)]))
    if of is SupplyWater and "mmol_l" in table:
        values["mmol_l"] = tuple(parcel(file.amounts(f"{name}.mmol_l", table["mmol_l"])))
    return values


def _compositions(file: WorldFile, site: Site) -> dict[str, Composition]:
    """Return what each input of the site holds: as described, else as is likely."""
    described = file.section(file.table, "inputs", "inputs")
    file.refuse_unknown("inputs.", described, site.inputs)
    found = {}
    for name, of in site.inputs.items():
        if name not in described:
            found[name] = likely_composition(of)
            continue
        place = f"inputs.{name}"
        table = file.section(described, name, place)
        numbers = file.numbers(place, table, [line.name for line in fields(Composition)])
        amounts = file.amounts(f"{place}.mmol_ml", table.get("mmol_ml", {}), MOST_MMOL_ML)
        found[name] = Composition(mmol_ml=amounts, solid=file.solid(place, table), **numbers)
    return found
