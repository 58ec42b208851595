"""Whatever looks like a key in a text that people read is a key that the TOML files know."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any, get_args, get_origin

import pytest
from pydantic import BaseModel

from controller.settings.schema_inputs import InputsFile
from controller.settings.schema_recipe import RecipeFile
from controller.settings.schema_rig import RigFile
from controller.settings.schema_site import SiteFile

CONTROLLER = Path(__file__).resolve().parents[2] / "controller"
# The names in the JSON of a plan are no keys of a TOML file.
SPEAKING = [
    *(file for file in sorted((CONTROLLER / "plan").glob("*.py")) if file.name != "as_json.py"),
    *sorted((CONTROLLER / "measure").glob("trim*.py")),
    *(CONTROLLER / "settings" / name for name in ("relations.py", "references.py")),
]
NAMED_FILE = re.compile(r"(rig\.toml|inputs\.toml|site\.toml|recipes)")
QUOTED = re.compile(r"`([^`]+)`")
PLACED = re.compile(r"\.toml: ([a-z_*]+(?:\.[a-z_*]+)*)")
UNDERSCORED = re.compile(r"(?<![\w.])[a-z]+(?:_[a-z]+)+(?!\w)")

Key = tuple[str, ...]


def paths(annotation: Any, before: Key = ()) -> Iterator[Key]:
    """Walk a schema; a name that the grower chooses is a star."""
    origin = get_origin(annotation)
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        for key, field in annotation.model_fields.items():
            yield (*before, key)
            yield from paths(field.annotation, (*before, key))
    elif origin is dict:
        yield (*before, "*")
        yield from paths(get_args(annotation)[1], (*before, "*"))
    elif origin is not None and get_args(annotation):
        yield from paths(get_args(annotation)[0], before)


KEYS = {
    "rig.toml": set(paths(RigFile)),
    "inputs.toml": set(paths(InputsFile)),
    "site.toml": set(paths(SiteFile)),
    "recipes": set(paths(RecipeFile)),
}


def texts(source: str) -> Iterator[str]:
    """Give every text of a module but its docstrings and exported names; what is filled in is a star."""
    tree = ast.parse(source)
    silent = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    for node in ast.walk(tree):
        if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == "__all__":
            silent |= {id(part) for part in ast.walk(node)}
    inside = {id(part) for node in ast.walk(tree) if isinstance(node, ast.JoinedStr) for part in node.values}
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            yield "".join(part.value if isinstance(part, ast.Constant) else "*" for part in node.values)
        elif (
            isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in silent | inside
        ):
            yield node.value


def ends_like(key: Key, written: str) -> bool:
    parts = tuple(written.split("."))
    tail = key[-len(parts) :]
    return len(tail) == len(parts) and all(
        "*" in (one, other) or one == other for one, other in zip(tail, parts, strict=True)
    )


def unknown_keys(text: str) -> list[str]:
    named = [KEYS[file] for file in NAMED_FILE.findall(text)]
    quoted = [
        word
        for word in QUOTED.findall(text)
        if not any(ends_like(key, word) for keys in named for key in keys)
    ]
    places = [
        place
        for place in PLACED.findall(text)
        if not any(
            len(key) == place.count(".") + 1 and ends_like(key, place) for keys in named for key in keys
        )
    ]
    every = {part for keys in KEYS.values() for key in keys for part in key}
    return [*quoted, *places, *(word for word in UNDERSCORED.findall(text) if word not in every)]


@pytest.mark.parametrize("file", SPEAKING, ids=lambda file: f"{file.parent.name}/{file.name}")
def test_every_key_that_a_text_names_is_in_a_schema(file):
    found = [(text, bad) for text in texts(file.read_text(encoding="utf-8")) if (bad := unknown_keys(text))]
    assert found == []


def test_the_texts_do_name_keys():
    said = [text for file in SPEAKING for text in texts(file.read_text(encoding="utf-8"))]
    assert sum(len(QUOTED.findall(text)) for text in said) >= 10
    assert sum(len(PLACED.findall(text)) for text in said) >= 3


@pytest.mark.parametrize(
    "text",
    [
        "lower first_fill_share of recipe *",
        "raise night_cap_ml in rig.toml",
        "raise `night_cap` in site.toml",
        "lower `cap`",
        "rig.toml: manifold.recover",
        "recipes/*.toml: trim_acid",
    ],
)
def test_a_key_that_no_file_has_is_found(text):
    assert unknown_keys(text)


@pytest.mark.parametrize(
    "text",
    [
        "raise `pumps.*.night_cap` in rig.toml, or lower `trim.cap` in site.toml",
        "lower `first_fill` in recipes/*.toml",
        "recipes/*.toml: trim.*",
        "the lower end is ph_low",
    ],
)
def test_a_key_that_a_file_has_passes(text):
    assert unknown_keys(text) == []
