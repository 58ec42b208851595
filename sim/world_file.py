"""Read simulated.toml with suspicion: every unknown key, wrong type or number out of bounds is one fault.

Knows the file and its bounds; what the numbers mean is told by `world.py` and `true_input.py`.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable
from math import isfinite
from pathlib import Path
from typing import Any

from controller.settings.faults import Fault, SiteFaults, nearest, plain, written
from sim.matter.ions import SOLIDS, TOTALS

FILE = "simulated.toml"

BOUNDS = {
    "temperature_c": (0.5, 40.0),
    "cooling_hours": (0.1, 10_000.0),
    "co2_ppm": (1.0, 100_000.0),
    "swing_k": (0.0, 15.0),
    "stir_heat_w": (0.0, 2000.0),
    "flow_share": (0.0, 3.0),
    "meter_error": (-0.5, 0.5),
    "offset_mv": (-200.0, 200.0),
    "slope_share": (0.5, 1.2),
    "lag_s": (0.1, 600.0),
    "noise_mv": (0.0, 20.0),
    "stray_mv": (-50.0, 50.0),
    "isopotential_ph": (3.0, 11.0),
    "slow_lag_s": (0.1, 6000.0),
    "slow_share": (0.0, 1.0),
    "glass_lag_s": (0.1, 6000.0),
    "drift_mv_h": (-50.0, 50.0),
    "reference_wander_mv": (0.0, 50.0),
    "stray_air_mv": (-50.0, 50.0),
    "stray_motor_mv": (-50.0, 50.0),
    "streaming_mv": (-50.0, 50.0),
    "junction_mv": (-50.0, 50.0),
    "probe_height_mm": (0.0, 2000.0),
    "cell_error": (-0.9, 2.0),
    "cell_noise_share": (0.0, 0.5),
    "per_k": (0.0, 0.05),
    "polarised_at_us_cm": (1000.0, 1e12),
    "cell_offset_c": (-20.0, 20.0),
    "cell_lag_s": (0.1, 6000.0),
    "level_offset_mm": (-1000.0, 1000.0),
    "level_scale": (0.5, 2.0),
    "level_noise_mm": (0.0, 50.0),
    "slosh_mm": (0.0, 100.0),
    "foam_share": (0.0, 1.0),
    "dead_mm": (0.0, 500.0),
    "mount_mm": (0.0, 10_000.0),
    "air_error_c": (-50.0, 50.0),
    "tank_offset_c": (-20.0, 20.0),
    "supply_offset_c": (-20.0, 20.0),
    "thermometer_noise_c": (0.0, 5.0),
    "thermometer_lag_s": (0.1, 6000.0),
    "pipe_minutes": (0.1, 10_000.0),
    "least_l_min": (0.0, 100.0),
    "tare_g": (0.0, 20_000.0),
    "platform_g": (0.0, 20_000.0),
    "span_error": (-0.5, 0.5),
    "scale_noise_g": (0.0, 100.0),
    "vibration_g": (0.0, 1000.0),
    "creep_share": (-0.05, 0.05),
    "creep_minutes": (0.1, 1000.0),
    "drift_g_k": (-100.0, 100.0),
    "calibration_error": (0.0, 0.5),
    "stood_hours": (0.0, 10_000.0),
    "line_ml": (0.1, 1000.0),
    "line_m": (0.05, 50.0),
    "thick_mpa_s": (0.0, 1e6),
    "thick_line_ml": (0.1, 1000.0),
    "above_tank_m": (-5.0, 5.0),
    "area_cm2": (1.0, 10_000.0),
    "rinse_can_l": (0.1, 1000.0),
    "solid_mmol_ml": (0.0, 30.0),
    "solid_volume_share": (0.001, 0.45),
    "grain_um": (0.1, 500.0),
    "grain_kg_l": (0.5, 10.0),
    "grain_spread": (1.0, 4.0),
}
MOST_MMOL = 5_000.0
MOST_MMOL_ML = 30.0


class WorldFile:
    """The file as read, and the faults found so far. Raises SiteFaults at once if it is no TOML."""

    def __init__(self, folder: Path) -> None:
        self.table = _table(folder / FILE)
        self.faults: list[Fault] = []

    def numbers(self, place: str, table: dict[str, Any], keys: list[str]) -> dict[str, float]:
        """Check the keys of one table and return its plain numbers."""
        self.refuse_unknown(f"{place}.", table, keys)
        return {
            key: self.number(f"{place}.{key}", value, *BOUNDS[key])
            for key, value in table.items()
            if key in keys and key in BOUNDS
        }

    def solid(self, place: str, table: dict[str, Any]) -> str:
        """Return the kind of solid that a table names; empty if none."""
        solid = table.get("solid", "")
        if solid in ("", *SOLIDS):
            return str(solid)
        self.fault(f"{place}.solid", solid, "is no known solid", nearest(solid, SOLIDS))
        return ""

    def amounts(self, place: str, table: object, most: float = MOST_MMOL) -> dict[str, float]:
        """Return a table of amounts by the names of the conserved totals."""
        if not isinstance(table, dict):
            self.fault(place, table, "is not a table of amounts", "write it like { K = 0.5, Cl = 0.2 }")
            return {}
        self.refuse_unknown(f"{place}.", table, TOTALS)
        return {
            name: self.number(f"{place}.{name}", amount, 0.0, most)
            for name, amount in table.items()
            if name in TOTALS
        }

    def section(self, table: dict[str, Any], key: str, place: str) -> dict[str, Any]:
        """Return a table within a table; nothing if it is missing."""
        found = table.get(key, {})
        if isinstance(found, dict):
            return found
        self.fault(place, found, "is not a table", f"write it as [{place}] with lines below it")
        return {}

    def refuse_unknown(self, place: str, table: dict[str, Any], known: Iterable[str]) -> None:
        """Find fault with every key that is not known, naming the nearest."""
        names = list(known)
        for key in table:
            if key not in names:
                self.fault(f"{place}{plain(key)}", table[key], "is an unknown key", nearest(key, names))

    def number(self, place: str, value: object, low: float, high: float) -> float:
        """Return a plain number within its bounds."""
        if isinstance(value, bool) or not isinstance(value, int | float) or not isfinite(value):
            self.fault(place, value, "is not a plain number", f"write a number from {low:g} to {high:g}")
            return low
        if not low <= value <= high:
            self.fault(place, value, "is out of bounds", f"write a number from {low:g} to {high:g}")
        return float(value)

    def fault(self, key: str, value: object, problem: str, remedy: str) -> None:
        """Keep one fault."""
        self.faults.append(Fault(FILE, key, written(value), problem, remedy))


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
