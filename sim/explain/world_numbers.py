"""Every number of a simulated world, each as the line that would say it in simulated.toml.

Names and values only, in the file's own words; which of them matter to people is told by `world_errors.py`.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import fields, is_dataclass

from sim.matter.ions import GYPSUM, SOLIDS, TOTALS
from sim.true_input import TrueInput
from sim.world import World

NAME_IN_FILE = {
    "probe": "ph_probe",
    "second_probe": "second_ph_probe",
    "cell": "conductivity_cell",
    "level": "level_sensor",
}
"""Tables that the file calls otherwise than the world does."""


def numbers(world: World) -> list[tuple[str, str]]:
    """Give (key, value) of everything that the file can say, with stand-ins where it said nothing.

    Joined by " = " they are lines of TOML. Amounts that are zero are left out, as in the file.
    """
    rows: list[tuple[str, str]] = []
    for of in fields(world):
        part = getattr(world, of.name)
        if is_dataclass(part):
            place = NAME_IN_FILE.get(of.name, of.name)
            for line in fields(part):
                rows += _lines(f"{place}.{line.name}", getattr(part, line.name))
    for name, true in world.inputs.items():
        rows += _input(f"inputs.{name}", true)
    return rows


def _lines(key: str, value: object) -> Iterator[tuple[str, str]]:
    if isinstance(value, tuple):
        yield from _amounts(key, value)
    elif isinstance(value, int | float):
        yield key, f"{value:.10g}"


def _amounts(key: str, content: Sequence[float]) -> Iterator[tuple[str, str]]:
    found = [(name, amount) for name, amount in zip(TOTALS, content, strict=False) if amount]
    if not found:
        yield key, "{}"
    for name, amount in found:
        yield f"{key}.{name}", f"{amount:.10g}"


def _input(place: str, true: TrueInput) -> Iterator[tuple[str, str]]:
    yield from _amounts(f"{place}.mmol_ml", true.dissolved_ml)
    if true.suspended is None:
        return
    for solid, mmol_ml in zip(SOLIDS, true.grains_ml[GYPSUM : GYPSUM + len(SOLIDS)], strict=True):
        if mmol_ml:
            yield f"{place}.solid", json.dumps(solid)
            # What is inert has no molar mass: its volume and density say how much of it there is.
            if solid != "inert":
                yield f"{place}.solid_mmol_ml", f"{mmol_ml:.10g}"
    yield f"{place}.solid_volume_share", f"{true.suspended.volume_share:.10g}"
    yield f"{place}.grain_um", f"{true.suspended.grain_um:.10g}"
    yield f"{place}.grain_kg_l", f"{true.suspended.grain_kg_l:.10g}"
    yield f"{place}.grain_spread", f"{true.suspended.grain_spread:.10g}"
