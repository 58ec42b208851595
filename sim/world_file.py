"""Read simulated.toml into a `World`, or refuse it with one line for every fault.

A missing file, table or line is no fault: `world.py` has stand-ins. Anything unknown or out of bounds is one.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable
from dataclasses import fields
from math import isfinite
from pathlib import Path
from typing import Any

from controller.settings.faults import Fault, SiteFaults, nearest, plain, written
from controller.settings.values import Site
from sim.ions import SOLIDS, TOTALS, parcel
from sim.world import (
    Bottles,
    Composition,
    Room,
    SupplyWater,
    TrueProbe,
    TruePumps,
    World,
    likely_composition,
)

FILE = "simulated.toml"

BOUNDS = {
    "temperature_c": (0.5, 45.0),
    "cooling_hours": (0.1, 10_000.0),
    "co2_ppm": (1.0, 100_000.0),
    "flow_share": (0.0, 3.0),
    "meter_error": (-0.5, 0.5),
    "offset_mv": (-200.0, 200.0),
    "slope_share": (0.5, 1.2),
    "lag_s": (0.1, 600.0),
    "noise_mv": (0.0, 20.0),
    "stray_mv": (-50.0, 50.0),
    "calibration_error": (0.0, 0.5),
    "stood_hours": (0.0, 10_000.0),
    "line_ml": (0.0, 1000.0),
    "tube_cm": (0.0, 100.0),
    "area_cm2": (1.0, 10_000.0),
    "solid_mmol_ml": (0.0, 30.0),
    "solid_volume_share": (0.001, 0.45),
    "grain_um": (0.1, 500.0),
    "grain_kg_l": (0.5, 10.0),
}
MOST_MMOL = 5_000.0
TABLES = {"room": Room, "supply": SupplyWater, "ph_probe": TrueProbe, "pumps": TruePumps, "bottles": Bottles}


def load_world(site: Site) -> World:
    """Read the simulated world of a site. Raises SiteFaults with every fault of the file."""
    reader = _Reader(_table(site.folder / FILE))
    world = reader.world(site)
    if reader.faults:
        raise SiteFaults(reader.faults)
    return world


def _table(path: Path) -> dict[str, Any]:
    """Read the file as it stands; nothing if there is none."""
    remedy = "mend it, or remove it to simulate with stand-ins"
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        return {}
    except UnicodeDecodeError:
        raise SiteFaults([Fault(FILE, "", "", "is not a text file in UTF-8", remedy)]) from None
    except (tomllib.TOMLDecodeError, RecursionError, ValueError) as error:
        problem = f"is not valid TOML: {plain(str(error))}"
        raise SiteFaults([Fault(FILE, "", "", problem, remedy)]) from None
    except OSError as error:
        raise SiteFaults([Fault(FILE, "", "", f"cannot be read: {error.strerror}", remedy)]) from None


class _Reader:
    """Walks the table and gathers faults."""

    def __init__(self, table: dict[str, Any]) -> None:
        self.table = table
        self.faults: list[Fault] = []

    def world(self, site: Site) -> World:
        self._known("", self.table, (*TABLES, "inputs"))
        room = self._values("room", Room)
        supply = self._values("supply", SupplyWater)
        probe = self._values("ph_probe", TrueProbe)
        pumps = self._values("pumps", TruePumps)
        bottles = self._values("bottles", Bottles)
        compositions = self._compositions(site)
        if self.faults:
            return World()
        return World(
            Room(**room),
            SupplyWater(**supply),
            TrueProbe(**probe),
            TruePumps(**pumps),
            Bottles(**bottles),
            {name: compositions[name].true_input(of) for name, of in site.inputs.items()},
        )

    def _compositions(self, site: Site) -> dict[str, Composition]:
        described = self._section(self.table, "inputs", "inputs")
        self._known("inputs.", described, site.inputs)
        found = {}
        for name, of in site.inputs.items():
            if name not in described:
                found[name] = likely_composition(of)
                continue
            place = f"inputs.{name}"
            table = self._section(described, name, place)
            values = self._read(place, table, [field.name for field in fields(Composition)])
            solid = table.get("solid", "")
            if solid not in ("", *SOLIDS):
                self._fault(f"{place}.solid", solid, "is no known solid", nearest(solid, SOLIDS))
            values["solid"] = solid
            values["mmol_ml"] = self._amounts(f"{place}.mmol_ml", table.get("mmol_ml", {}))
            found[name] = Composition(**values)
        return found

    def _values(self, name: str, of: type[Any]) -> dict[str, Any]:
        table = self._section(self.table, name, name)
        values = self._read(name, table, [field.name for field in fields(of)])
        if "mmol_l" in table:
            values["mmol_l"] = tuple(parcel(self._amounts(f"{name}.mmol_l", table["mmol_l"])))
        return values

    def _read(self, place: str, table: dict[str, Any], keys: list[str]) -> dict[str, Any]:
        """Check the keys of one table and return its plain numbers."""
        self._known(f"{place}.", table, keys)
        return {
            key: self._number(f"{place}.{key}", value, *BOUNDS[key])
            for key, value in table.items()
            if key in keys and key in BOUNDS
        }

    def _amounts(self, place: str, table: object) -> dict[str, float]:
        if not isinstance(table, dict):
            self._fault(place, table, "is not a table of amounts", "write it like { K = 0.5, Cl = 0.2 }")
            return {}
        self._known(f"{place}.", table, TOTALS)
        return {
            name: self._number(f"{place}.{name}", amount, 0.0, MOST_MMOL)
            for name, amount in table.items()
            if name in TOTALS
        }

    def _section(self, table: dict[str, Any], key: str, place: str) -> dict[str, Any]:
        found = table.get(key, {})
        if isinstance(found, dict):
            return found
        self._fault(place, found, "is not a table", f"write it as [{place}] with lines below it")
        return {}

    def _known(self, place: str, table: dict[str, Any], known: Iterable[str]) -> None:
        names = list(known)
        for key in table:
            if key not in names:
                self._fault(f"{place}{plain(key)}", table[key], "is an unknown key", nearest(key, names))

    def _number(self, place: str, value: object, low: float, high: float) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float) or not isfinite(value):
            self._fault(place, value, "is not a plain number", f"write a number from {low:g} to {high:g}")
            return low
        if not low <= value <= high:
            self._fault(place, value, "is out of bounds", f"write a number from {low:g} to {high:g}")
        return float(value)

    def _fault(self, key: str, value: object, problem: str, remedy: str) -> None:
        self.faults.append(Fault(FILE, key, written(value), problem, remedy))
