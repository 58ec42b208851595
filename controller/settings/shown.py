"""Show by which convention each quantity of a site was read: which spoon, which gallon.

Only for people to look at; the numbers themselves come from `load.py`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from pydantic import ValidationError

from controller.settings.documents import read_documents
from controller.settings.faults import plain
from controller.settings.fields import Conventions, Table
from controller.settings.quantity import Reading
from controller.settings.schema_inputs import InputsFile
from controller.settings.schema_recipe import RecipeFile


@dataclass(frozen=True, slots=True)
class ShownReading:
    """One quantity that could have been read in more than one way; `shown` says how it was."""

    file: str
    key: str
    shown: str

    def __str__(self) -> str:
        """Write it on one line."""
        return f"{self.file}: {self.key}: {self.shown}"


def shown_readings(folder: Path) -> tuple[ShownReading, ...]:
    """List the quantities of a faultless site that were read by a convention; faulty files are left out."""
    documents = read_documents(folder)
    models: list[tuple[str, dict[str, object] | None, type[Table], Conventions]] = [
        (document.file, document.table, model, Conventions(document.spoons))
        for model, of_this_kind in (
            (InputsFile, [documents.inputs]),
            (RecipeFile, documents.recipes.values()),
        )
        for document in of_this_kind
    ]
    found: list[ShownReading] = []
    for file, table, model, conventions in models:
        try:
            checked = model.model_validate(table, context=conventions)
        except ValidationError:
            continue
        found += [ShownReading(plain(file), key, shown) for key, shown in _by_convention(checked, "")]
    return tuple(found)


def _by_convention(thing: object, key: str) -> Iterator[tuple[str, str]]:
    if isinstance(thing, Reading):
        if thing.shown != thing.text:
            yield key, thing.shown
    elif isinstance(thing, Table):
        for name, value in thing:
            yield from _by_convention(value, f"{key}.{name}" if key else name)
    elif isinstance(thing, dict):
        for name, value in thing.items():
            yield from _by_convention(value, f"{key}.{name}")
    elif isinstance(thing, list):
        for number, value in enumerate(thing, start=1):
            yield from _by_convention(value, f"{key}[{number}]")
