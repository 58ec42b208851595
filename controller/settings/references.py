"""Check what the files of a site say about each other: names that must exist, places that must not be shared.

Works on the files as written and skips whatever is not there or of the wrong type (the schemas tell that), so
that a fault in one table never hides another.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from controller.settings import wanted
from controller.settings.documents import Document, Documents, Section
from controller.settings.faults import Fault, nearest, plain, written
from controller.settings.quantity import readable
from controller.settings.values import ChlorineMethod


def reference_faults(documents: Documents) -> list[Fault]:
    """List every fault that lies between two tables or two files."""
    faults = [*_rig_faults(documents.rig)]
    faults += _input_faults(documents.inputs, documents.rig)
    faults += _rest_faults(documents.site, documents.rig)
    faults += _schedule_faults(documents.site, set(documents.recipes))
    for recipe in documents.recipes.values():
        faults += _recipe_faults(recipe, documents.inputs, documents.rig)
    return faults


def _rig_faults(rig: Document) -> Iterator[Fault]:
    pumps = rig.sections("pumps")
    channels = {name: row.get("channel") for name, row in pumps.items()}
    yield from _shared(rig.file, "pumps.{}.channel", channels, int, "each pump needs a channel of its own")
    rinse_pump = rig.section("manifold").get("rinse_pump")
    if isinstance(rinse_pump, str) and pumps and rinse_pump not in pumps:
        yield _unknown(rig.file, "manifold.rinse_pump", rinse_pump, "a pump of this rig", pumps)


def _input_faults(inputs: Document, rig: Document) -> Iterator[Fault]:
    rows = inputs.sections("inputs")
    pumps, agitators = rig.sections("pumps"), _agitators(rig)
    rinse_pump = rig.section("manifold").get("rinse_pump")
    owners = {name: row.get("pump") for name, row in rows.items()}
    for name, pump in owners.items():
        if isinstance(pump, str) and pumps and pump not in pumps:
            yield _unknown(inputs.file, f"inputs.{plain(name)}.pump", pump, "a pump of rig.toml", pumps)
        elif isinstance(pump, str) and pump == rinse_pump:
            problem, remedy = "is the rinse pump", "give the input a pump of its own"
            yield Fault(inputs.file, f"inputs.{plain(name)}.pump", written(pump), problem, remedy)
    yield from _shared(inputs.file, "inputs.{}.pump", owners, str, "each input needs a pump of its own")
    for name, row in rows.items():
        agitator = row.get("agitator")
        if isinstance(agitator, str) and agitators is not None and agitator not in agitators:
            key = f"inputs.{plain(name)}.agitator"
            yield _unknown(inputs.file, key, agitator, "in the list agitators of rig.toml", agitators)


def _rest_faults(site: Document, rig: Document) -> Iterator[Fault]:
    chlorine = site.section("water").get("chlorine")
    if chlorine == ChlorineMethod.AERATED_REST.value and rig.value("air_pump") is False:
        problem = "needs air, but air_pump = false in rig.toml"
        remedy = "fit an air pump and write air_pump = true, or deal with chlorine in another way"
        yield Fault(site.file, "water.chlorine", written(chlorine), problem, remedy)


def _schedule_faults(site: Document, recipes: set[str]) -> Iterator[Fault]:
    for number, night in enumerate(site.listed("night"), start=1):
        recipe = night.get("recipe")
        if isinstance(recipe, str) and recipes and recipe not in recipes:
            yield _unknown(site.file, f"night[{number}].recipe", recipe, "a recipe of this site", recipes)


def _recipe_faults(recipe: Document, inputs: Document, rig: Document) -> Iterator[Fault]:
    rows = inputs.sections("inputs")
    seen: dict[str, int] = {}
    for number, addition in enumerate(recipe.listed("addition"), start=1):
        name, key = addition.get("input"), f"addition[{number}].input"
        if not isinstance(name, str):
            continue
        if rows and name not in rows:
            yield _unknown(plain(recipe.file), key, name, "an input of inputs.toml", rows)
        elif name in seen:
            problem = f"is added twice, here and in addition[{seen[name]}]"
            yield Fault(
                plain(recipe.file), key, written(name), problem, "write one line with the sum of both rates"
            )
        seen.setdefault(name, number)
    for reaction in ("acid", "base"):
        yield from _trim_faults(recipe, reaction, rows)
    yield from _jar_test_faults(recipe)
    final_l = readable(recipe.value("final"), wanted.LITRES)
    working = rig.section("tank").get("working")
    working_l = readable(working, wanted.LITRES)
    if final_l is not None and working_l is not None and final_l > working_l:
        problem = f"is more than the tank works with ({working} in rig.toml)"
        yield Fault(plain(recipe.file), "final", written(recipe.value("final")), problem, "write less")


def _trim_faults(recipe: Document, reaction: str, rows: Mapping[str, Section]) -> Iterator[Fault]:
    name, key, file = recipe.section("trim").get(reaction), f"trim.{reaction}", plain(recipe.file)
    if not isinstance(name, str) or not rows:
        return
    if name not in rows:
        yield _unknown(file, key, name, "an input of inputs.toml", rows)
        return
    if rows[name].get("living") is True:
        remedy = "name a trim input that does not live: pH must be right before anything living goes in"
        yield Fault(file, key, written(name), "is a living input", remedy)
    if rows[name].get("reaction", "neutral") != reaction:
        fitting = [other for other, row in rows.items() if row.get("reaction") == reaction]
        remedy = (
            f'{nearest(name, fitting)}, with reaction = "{reaction}"' if fitting else "leave the line out"
        )
        article = "an" if reaction == "acid" else "a"
        yield Fault(file, key, written(name), f"is not {article} {reaction}", remedy)


def _jar_test_faults(recipe: Document) -> Iterator[Fault]:
    """List what a jar test says that this recipe's trims cannot use."""
    trim, file = recipe.section("trim"), plain(recipe.file)
    jar = trim.get("jar_test")
    name = jar.get("input") if isinstance(jar, dict) else None
    if not isinstance(jar, dict) or not isinstance(name, str):
        return
    ways = {trim.get("acid"): -1.0, trim.get("base"): 1.0}
    if name not in ways:
        remedy = "name the acid or the base of this [trim]"
        yield Fault(file, "trim.jar_test.input", written(name), "is not what this recipe trims with", remedy)
        return
    before, after = jar.get("ph_before"), jar.get("ph_after")
    if not isinstance(before, int | float) or not isinstance(after, int | float):
        return
    if (after - before) * ways[name] <= 0.0:
        wrong = f"does not lie {'below' if ways[name] < 0 else 'above'} ph_before ({written(before)})"
        remedy = "write both readings as they were, or try the jar again"
        yield Fault(file, "trim.jar_test.ph_after", written(after), wrong, remedy)


def _shared(
    file: str, key: str, owned: Mapping[str, object], kind: type[int | str], remedy: str
) -> Iterator[Fault]:
    first: dict[object, str] = {}
    for name, thing in owned.items():
        if not isinstance(thing, kind) or isinstance(thing, bool):
            continue
        if thing in first:
            problem = f"is used twice, here and by {plain(first[thing])}"
            yield Fault(file, key.format(plain(name)), written(thing), problem, remedy)
        first.setdefault(thing, name)


def _unknown(file: str, key: str, name: str, what: str, known: Mapping[str, object] | set[str]) -> Fault:
    return Fault(file, key, written(name), f"is not {what}", nearest(name, known))


def _agitators(rig: Document) -> set[str] | None:
    found = rig.value("agitators")
    return {name for name in found if isinstance(name, str)} if isinstance(found, list) else None
