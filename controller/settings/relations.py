"""Check what the settings of one file say about each other: orders, ranges, things that need one another.

Works on the file as written and skips whatever is missing or was refused by itself (the schemas tell that):
one fault never hides another. Names that point into another table are `references.py`; what the wiring says
about itself is `wiring_relations.py`, what scales and calibrations need `metering_relations.py`.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from controller.settings import wanted
from controller.settings.documents import Document, Documents, Section
from controller.settings.faults import Fault, plain, written
from controller.settings.metering_relations import metering_faults
from controller.settings.quantity import Wanted, readable
from controller.settings.schema_recipe import NO_ADDITIONS
from controller.settings.units import Spoons
from controller.settings.wiring_relations import wiring_faults

_LEVELS = ("low_float", "working", "high_float", "second_high_float", "brim")


def relation_faults(documents: Documents) -> list[Fault]:
    """List every fault that lies between two settings of one file."""
    faults = [*_level_faults(documents.rig), *_pipe_faults(documents.rig), *_pump_faults(documents.rig)]
    faults += wiring_faults(documents.rig)
    faults += metering_faults(documents)
    faults += _input_faults(documents.inputs)
    faults += [
        *_water_faults(documents.site),
        *_policy_faults(documents.site),
        *_night_faults(documents.site),
    ]
    for recipe in documents.recipes.values():
        faults += [*_window_faults(recipe), *_addition_faults(recipe)]
    return faults


def _level_faults(rig: Document) -> Iterator[Fault]:
    tank = rig.section("tank")
    levels = {key: readable(tank.get(key), wanted.LITRES) for key in _LEVELS}
    readable_levels = [(key, level_l) for key, level_l in levels.items() if level_l is not None]
    for (below, below_l), (above, above_l) in pairwise(readable_levels):
        if above_l <= below_l:
            problem = f"is not above {below} ({plain(str(tank[below]))})"
            remedy = f"levels must rise in this order: {', '.join(_LEVELS)}"
            yield Fault(rig.file, f"tank.{above}", written(tank[above]), problem, remedy)


def _pipe_faults(rig: Document) -> Iterator[Fault]:
    tank, pipe = rig.section("tank"), rig.section("fill").get("pipe")
    brim_l = readable(tank.get("brim"), wanted.LITRES)
    high_l = readable(tank.get("second_high_float"), wanted.LITRES)
    pipe_ml = readable(pipe, wanted.MILLILITRES)
    if brim_l is None or high_l is None or pipe_ml is None:
        return
    if high_l < brim_l <= high_l + pipe_ml / 1000:
        problem = "does not fit between tank.second_high_float and tank.brim"
        remedy = "lower the floats: what is in the pipe still runs out after the valve has closed"
        yield Fault(rig.file, "fill.pipe", written(pipe), problem, remedy)


def _pump_faults(rig: Document) -> Iterator[Fault]:
    for name, pump in rig.sections("pumps").items():
        key = f"pumps.{plain(name)}"
        for ends, remedy in (
            (("min_dose", "night_cap"), "raise night_cap"),
            (("min_dose", "dose_cap"), "raise dose_cap"),
            (("dose_cap", "night_cap"), "lower dose_cap: one dose counts to the night"),
        ):
            yield from _not_below(rig.file, key, pump, ends, wanted.MILLILITRES, remedy)
        count_ml = readable(pump.get("per_count"), wanted.MILLILITRES_PER_COUNT)
        dose_ml = readable(pump.get("min_dose"), wanted.MILLILITRES)
        if count_ml is not None and dose_ml is not None and dose_ml < count_ml:
            problem = f"is less than one count ({plain(str(pump['per_count']))})"
            yield Fault(
                rig.file, f"{key}.min_dose", written(pump["min_dose"]), problem, "write many counts' worth"
            )


def _input_faults(inputs: Document) -> Iterator[Fault]:
    for name, row in inputs.sections("inputs").items():
        key = f"inputs.{plain(name)}"
        yield from _not_below(
            inputs.file,
            key,
            row,
            ("label_low", "label_high"),
            wanted.MILLILITRES_PER_LITRE,
            remedy="the label range is reversed: swap the two",
            spoons=inputs.spoons,
        )
        if row.get("form") == "suspension" and "agitator" not in row:
            remedy = "add agitator and agitate: a bottle that stands gives weak doses and then sludge"
            problem = "is a suspension whose bottle nothing agitates"
            yield Fault(inputs.file, f"{key}.form", written("suspension"), problem, remedy)
        for one, other in (("agitator", "agitate"), ("agitate", "agitator")):
            if one in row and other not in row:
                remedy = f"add {other}, or remove {one}"
                yield Fault(inputs.file, f"{key}.{one}", written(row[one]), f"stands without {other}", remedy)
        if row.get("living") is True and row.get("oxidiser") is True:
            remedy = "keep one: an oxidiser kills what lives"
            yield Fault(inputs.file, f"{key}.oxidiser", "true", "contradicts living = true", remedy)


def _water_faults(site: Document) -> Iterator[Fault]:
    water = site.section("water")
    low_c = readable(water.get("temperature_low"), wanted.DEGREES_CELSIUS)
    high_c = readable(water.get("temperature_high"), wanted.DEGREES_CELSIUS)
    if low_c is not None and high_c is not None and high_c <= low_c:
        problem = f"is not above temperature_low ({plain(str(water['temperature_low']))})"
        yield Fault(
            site.file, "water.temperature_high", written(water["temperature_high"]), problem, "swap the two"
        )
    rest_s = readable(water.get("rest"), wanted.SECONDS_OR_NONE)
    if water.get("chlorine") == "aerated rest" and rest_s == 0:
        remedy = 'write how long the water rests with air, e.g. "12 h"'
        yield Fault(
            site.file,
            "water.rest",
            written(water["rest"]),
            'is no rest, but chlorine = "aerated rest"',
            remedy,
        )


def _policy_faults(site: Document) -> Iterator[Fault]:
    yield from _not_below(
        site.file,
        "trim",
        site.section("trim"),
        ("first_dose", "cap"),
        wanted.MILLILITRES_PER_LITRE,
        remedy="write the most that all trims of a night may add",
    )
    yield from _not_below(
        site.file,
        "keeping",
        site.section("keeping"),
        ("stir", "stir_every"),
        wanted.SECONDS,
        remedy="write a short stir and a longer time from start to start",
    )


def _night_faults(site: Document) -> Iterator[Fault]:
    planned: dict[tuple[str, str], int] = {}
    for number, night in enumerate(site.listed("night"), start=1):
        at = night.get("at")
        for day in _days(night) if isinstance(at, str) else ():
            first = planned.setdefault((day, str(at)), number)
            if first != number:
                problem = f"plans {plain(f'{day} {at}')[:40]} again, as night[{first}] does"
                remedy = "plan each time once: there is one tank"
                yield Fault(site.file, f"night[{number}].days", written(day), problem, remedy)


def _days(night: Section) -> list[str]:
    days = night.get("days")
    # A day written twice within one night is one day.
    return list(dict.fromkeys(day for day in days if isinstance(day, str))) if isinstance(days, list) else []


def _window_faults(recipe: Document) -> Iterator[Fault]:
    low, high = recipe.value("ph_low"), recipe.value("ph_high")
    if isinstance(low, int | float) and isinstance(high, int | float) and low >= high:
        problem = f"is not above ph_low ({written(low)})"
        yield Fault(plain(recipe.file), "ph_high", written(high), problem, "write the lower end as ph_low")
    least, most = recipe.value("conductivity_low_us_cm"), recipe.value("conductivity_high_us_cm")
    if isinstance(least, int | float) and isinstance(most, int | float) and least >= most:
        problem = f"is not above conductivity_low_us_cm ({written(least)})"
        remedy = "write the lower end as conductivity_low_us_cm"
        yield Fault(plain(recipe.file), "conductivity_high_us_cm", written(most), problem, remedy)


def _addition_faults(recipe: Document) -> Iterator[Fault]:
    file, listed, said = plain(recipe.file), recipe.value("addition"), recipe.value("additions")
    if recipe.table is None or not (listed is None or isinstance(listed, list)):
        return
    if listed and said == NO_ADDITIONS:
        problem = f"contradicts the {len(listed)} [[addition]] of this recipe"
        yield Fault(file, "additions", written(said), problem, "remove this line, or every [[addition]]")
    if not listed and said is None:
        remedy = (
            f"if the file was cut short, put it back whole; if it is plain water, write additions = "
            f'"{NO_ADDITIONS}" above its first section'
        )
        yield Fault(file, "addition", "", "is missing: nothing is added by this recipe", remedy)


def _not_below(
    file: str,
    key: str,
    section: Section,
    ends: tuple[str, str],
    kind: Wanted,
    remedy: str,
    spoons: Spoons = Spoons.LABEL,
) -> Iterator[Fault]:
    low, high = ends
    low_value = readable(section.get(low), kind, spoons)
    high_value = readable(section.get(high), kind, spoons)
    if low_value is not None and high_value is not None and high_value < low_value:
        problem = f"is below {low} ({plain(str(section[low]))})"
        yield Fault(file, f"{key}.{high}", written(section[high]), problem, remedy)
