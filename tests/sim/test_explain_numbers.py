"""Every line of the listing of a world can be written in simulated.toml, and makes the same world again."""

from __future__ import annotations

import shutil
import tomllib
from dataclasses import fields, is_dataclass, replace
from pathlib import Path

import pytest

from controller.settings.load import demo_site_folder, load_site
from sim.explain.world_numbers import numbers
from sim.true_input import TrueInput
from sim.world import World, load_world
from sim.world_file import FILE


def flat(part: object) -> object:
    """Take dataclasses apart for pytest's approx."""
    if is_dataclass(part):
        return [flat(getattr(part, line.name)) for line in fields(part)]
    if isinstance(part, dict):
        return [(name, flat(of)) for name, of in part.items()]
    return part


def leaves(part: object) -> list[object]:
    found = flat(part)
    return [leaf for one in found for leaf in leaves(one)] if isinstance(found, list | tuple) else [found]


def world_of(folder: Path, text: str | None) -> World:
    """Load the demo site's world with another file, or with none."""
    shutil.copytree(demo_site_folder(), folder)
    if text is None:
        (folder / FILE).unlink()
    else:
        (folder / FILE).write_text(text, encoding="utf-8")
    return load_world(load_site(folder))


def written(world: World) -> str:
    return "\n".join(f"{key} = {value}" for key, value in numbers(world)) + "\n"


def must_be_the_same(found: World, world: World) -> None:
    for one, other in zip(leaves(found), leaves(world), strict=True):
        assert one == (pytest.approx(other, rel=1e-8) if isinstance(other, float) else other)


def test_a_world_written_as_listed_is_the_same_world(tmp_path: Path) -> None:
    described = (demo_site_folder() / FILE).read_text(encoding="utf-8")
    world = world_of(tmp_path / "a", described)
    text = written(world)
    must_be_the_same(world_of(tmp_path / "b", text), world)
    lines = set(text.splitlines())
    assert {
        "supply.mmol_l.carbonate = 2.12",
        "ph_probe.lag_s = 8",
        "conductivity_cell.cell_error = 0.01",
        "level_sensor.foam_share = 0.3",
        "second_ph_probe.lag_s = 11",
        "scales.platform_g = 1500",
        "bottles.rinse_can_l = 20",
        "inputs.kelp_extract.mmol_ml.humate = 0.16",
        'inputs.gypsum_suspension.solid = "gypsum"',
        "inputs.gypsum_suspension.grain_um = 20",
    } <= lines


def test_stand_ins_are_listed_as_well(tmp_path: Path) -> None:
    world = world_of(tmp_path / "a", None)
    must_be_the_same(world_of(tmp_path / "b", written(world)), world)


def test_every_key_of_the_file_is_listed(tmp_path: Path) -> None:
    listed = tomllib.loads(written(world_of(tmp_path / "a", None)))
    described = tomllib.loads((demo_site_folder() / FILE).read_text(encoding="utf-8"))

    def missing(there: object, wanted: object, place: str = "") -> list[str]:
        if not isinstance(wanted, dict):
            return []
        known = there if isinstance(there, dict) else {}
        gone = [f"{place}{key}" for key in wanted if key not in known]
        return gone + [
            one for key in wanted if key in known for one in missing(known[key], wanted[key], f"{key}.")
        ]

    described.pop("inputs")
    assert missing(listed, described) == []


def test_water_and_liquids_of_nothing_are_listed_as_empty(tmp_path: Path) -> None:
    world = world_of(tmp_path / "a", None)
    nothing = TrueInput((0.0,) * 22, (0.0,) * 22, None)
    empty = replace(
        world,
        supply=replace(world.supply, mmol_l=(0.0,) * 22),
        inputs={"molasses": nothing},
    )
    rows = dict(numbers(empty))
    assert rows["supply.mmol_l"] == "{}"
    assert rows["inputs.molasses.mmol_ml"] == "{}"
    assert not any(world_of(tmp_path / "b", written(empty)).supply.mmol_l)
