"""Check what rig.toml says about metering: scales and who stands on them, start volumes, calibration dates.

Works on the files as written and skips whatever is missing or was refused by itself, as `relations.py` does.
"""

from __future__ import annotations

from collections.abc import Iterator

from controller.settings import wanted
from controller.settings.documents import Document, Documents, Section
from controller.settings.faults import Fault, close_word, nearest, plain, written
from controller.settings.numbers import plain_number
from controller.settings.quantity import readable

MOST_ON_SCALE_KG = 32.0
"""More than this the board cannot tell: a scale's reading is a whole number of grams that ends there."""
EMPTY_BOTTLE_KG = 1.0
"""Allowed for every empty bottle with its cap and tube (assumed: a can of 10 to 20 L)."""
_WATER_KG_L = 1.0


def metering_faults(documents: Documents) -> list[Fault]:
    """List every fault that lies between scales, pumps, and the bottles that stand on them."""
    rig = documents.rig
    faults = [*_scale_faults(rig), *_weight_faults(documents)]
    for name, pump in rig.sections("pumps").items():
        faults += [*_date_faults(rig.file, f"pumps.{plain(name)}", pump)]
        faults += [*_start_faults(rig.file, f"pumps.{plain(name)}", pump)]
    return faults


def _scale_faults(rig: Document) -> Iterator[Fault]:
    scales = rig.sections("scales")
    first: dict[int, str] = {}
    for name, scale in scales.items():
        line = scale.get("line")
        if isinstance(line, bool) or not isinstance(line, int):
            continue
        if first.setdefault(line, name) != name:
            problem = f"is used twice, here and by {plain(first[line])}"
            remedy = "each scale needs a data line of its own"
            yield Fault(rig.file, f"scales.{plain(name)}.line", written(line), problem, remedy)
    written_at = {name: pump.get("scale") for name, pump in rig.sections("pumps").items()}
    named = {name: scale for name, scale in written_at.items() if isinstance(scale, str)}
    idle = [name for name in scales if name not in named.values()]
    meant: set[str] = set()
    for name, wanted_scale in named.items():
        if wanted_scale in scales:
            continue
        meant.add(close_word(wanted_scale, idle) or "")
        key, problem = f"pumps.{plain(name)}.scale", "is not a scale of this rig"
        remedy = nearest(wanted_scale, scales) if scales else "add [scales.NAME] with its line, or remove it"
        yield Fault(rig.file, key, written(wanted_scale), problem, remedy)
    for name in idle:
        if name not in meant:
            problem = "is used by no pump"
            remedy = f'write scale = "{plain(name)}" at each pump whose bottle stands on it, or remove it'
            yield Fault(rig.file, f"scales.{plain(name)}", "", problem, remedy)


def _weight_faults(documents: Documents) -> Iterator[Fault]:
    """Find the scales that cannot carry what stands on them when every bottle is as full as the files say."""
    for name in documents.rig.sections("scales"):
        weights_kg = dict(_weights_kg(documents, name))
        total_kg = sum(weights_kg.values())
        if total_kg > MOST_ON_SCALE_KG:
            listed = ", ".join(f"{plain(what)} {kg:.1f}" for what, kg in weights_kg.items())
            problem = (
                f"carries {plain_number(total_kg)} kg with its bottles full ({listed}, each with "
                f"{EMPTY_BOTTLE_KG:g} for the empty bottle), and the board can tell {MOST_ON_SCALE_KG:g} kg"
            )
            remedy = "put one of them on another scale, or use smaller bottles"
            yield Fault(documents.rig.file, f"scales.{plain(name)}", "", problem, remedy)


def _weights_kg(documents: Documents, scale: str) -> Iterator[tuple[str, float]]:
    """Give what each bottle on a scale weighs; the rinse water's can holds at least what a night may draw."""
    pumps = documents.rig.sections("pumps")
    on_it = [name for name, pump in pumps.items() if pump.get("scale") == scale]
    inputs = documents.inputs
    for name, row in inputs.sections("inputs").items():
        stock_ml = readable(row.get("stock"), wanted.MILLILITRES_OR_NONE, inputs.spoons)
        density_kg_l = readable(row.get("density"), wanted.KILOGRAMS_PER_LITRE)
        if row.get("pump") in on_it and stock_ml is not None and density_kg_l is not None:
            yield name, stock_ml / 1000 * density_kg_l + EMPTY_BOTTLE_KG
    rinse_pump = documents.rig.section("manifold").get("rinse_pump")
    if isinstance(rinse_pump, str) and rinse_pump in on_it:
        drawn_ml = readable(pumps[rinse_pump].get("night_cap"), wanted.MILLILITRES)
        if drawn_ml is not None:
            yield rinse_pump, drawn_ml / 1000 * _WATER_KG_L + EMPTY_BOTTLE_KG


def _date_faults(file: str, key: str, pump: Section) -> Iterator[Fault]:
    for one, other in (("calibrated", "due"), ("due", "calibrated")):
        if one in pump and other not in pump:
            remedy = f"add {other}, or remove {one}"
            yield Fault(file, f"{key}.{one}", written(pump[one]), f"stands without {other}", remedy)


def _start_faults(file: str, key: str, pump: Section) -> Iterator[Fault]:
    start_ml = readable(pump.get("start"), wanted.MILLILITRES_SIGNED)
    dose_ml = readable(pump.get("min_dose"), wanted.MILLILITRES)
    if start_ml is not None and dose_ml is not None and abs(start_ml) > dose_ml / 2:
        problem = f"is more than half of min_dose ({plain(str(pump['min_dose']))})"
        remedy = "raise min_dose, or weigh the pump again: so small a dose would be mostly error"
        yield Fault(file, f"{key}.start", written(pump["start"]), problem, remedy)
