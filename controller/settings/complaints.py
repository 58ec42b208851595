"""Turn what pydantic found wrong in one file into faults a grower can read.

The words for a refused value come from whoever refused it; here are only the words for pydantic's own checks.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, get_args, get_origin

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from controller.settings.faults import Fault, Refused, close_word, nearest, plain, written

_SLIP = "look for a slip of the unit or of the point"

# pydantic's error type -> problem and remedy; braces are filled from the bounds of the field.
_PLAIN_WORDS: Mapping[str, tuple[str, str]] = {
    "bool_type": ("is neither true nor false", "write true or false without quotes"),
    "int_type": ("is not a whole number", "write a whole number without quotes"),
    "int_from_float": ("is not a whole number", "write a whole number without quotes"),
    "float_type": ("is not a plain number", "write a number without quotes and without a unit"),
    "finite_number": ("is not a finite number", "write a number"),
    "list_type": ("is not a list", "write it in square brackets, or as a [[section]] of its own"),
    "model_type": ("is not a table", "write it as a [section] with keys of its own"),
    "dict_type": ("is not a table", "write it as [section.NAME] with keys of its own"),
    "too_short": ("is empty", "write at least one"),
    "greater_than_equal": ("is less than {ge:g}", _SLIP),
    "less_than_equal": ("is more than {le:g}", _SLIP),
    "greater_than": ("is not more than {gt:g}", _SLIP),
}

_Place = tuple[int | str, ...]


def complaints(error: ValidationError, file: str, model: type[BaseModel]) -> list[Fault]:
    """List the faults of one file, in the order of its keys."""
    faults: list[Fault] = []
    found = error.errors(include_url=False)
    misspelt = _misspelt(found, model)
    for item in found:
        place = _place(item)
        if item["type"] == "missing" and place in misspelt.values():
            continue
        cause = item.get("ctx", {}).get("error")
        if isinstance(cause, Refused):
            value = written(item["input"])
            faults.append(Fault(file, _key(place), value, cause.problem, cause.remedy))
        elif item["type"] == "missing":
            faults.append(_missing(file, place, model))
        elif item["type"] == "extra_forbidden":
            faults.append(_unknown(file, place, item["input"], model, missing=place in misspelt))
        else:
            words = _PLAIN_WORDS.get(item["type"], (plain(item["msg"]), "write it as the demo site does"))
            problem = words[0].format_map(item.get("ctx", {}))
            faults.append(Fault(file, _key(place), written(item["input"]), problem, words[1]))
    return faults


def _missing(file: str, place: _Place, model: type[BaseModel]) -> Fault:
    table = _annotation_at(model, place[:-1])
    field = table.model_fields[str(place[-1])] if _is_table(table) else None
    name = plain(str(place[-1]))
    if field is not None and field.examples:
        return Fault(file, _key(place), "", "is missing", f"add {name} = {field.examples[0]}")
    kind: object = get_origin(field.annotation) if field is not None else None
    sections: dict[object, str] = {dict: f"[{_key(place)}.NAME]", list: f"[[{_key(place)}]]"}
    section = sections.get(kind, f"[{_key(place)}]")
    return Fault(file, _key(place), "", "is missing", f"add the section {section}")


def _unknown(file: str, place: _Place, value: object, model: type[BaseModel], *, missing: bool) -> Fault:
    remedy = nearest(place[-1], _known(place, model))
    if missing:
        remedy += ", which is missing"
    return Fault(file, _key(place), written(value), "is not a known key", remedy)


def _misspelt(found: list[ErrorDetails], model: type[BaseModel]) -> dict[_Place, _Place]:
    """Pair each unknown key with the missing one that it was probably meant to be: that is one mistake."""
    missing = {_place(item) for item in found if item["type"] == "missing"}
    pairs: dict[_Place, _Place] = {}
    for item in found:
        place = _place(item)
        if item["type"] == "extra_forbidden":
            meant = close_word(place[-1], _known(place, model))
            if meant is not None and (*place[:-1], meant) in missing:
                pairs[place] = (*place[:-1], meant)
    return pairs


def _place(item: ErrorDetails) -> _Place:
    return tuple(part for part in item["loc"] if part != "[key]")


def _known(place: _Place, model: type[BaseModel]) -> list[str]:
    table = _annotation_at(model, place[:-1])
    return list(table.model_fields) if _is_table(table) else []


def _annotation_at(model: type[BaseModel], place: _Place) -> Any:
    annotation: Any = model
    for part in place:
        if _is_table(annotation):
            annotation = annotation.model_fields[str(part)].annotation
        else:
            annotation = get_args(annotation)[-1]
        annotation = _of_section_left_out(annotation)
    return annotation


def _of_section_left_out(annotation: Any) -> Any:
    """Give the table of a section that may be left out (a table or None), or the annotation itself."""
    tables = [part for part in get_args(annotation) if _is_table(part)]
    return tables[0] if type(None) in get_args(annotation) and tables else annotation


def _is_table(annotation: Any) -> bool:
    return isinstance(annotation, type) and issubclass(annotation, BaseModel)


def _key(place: _Place) -> str:
    """Write a place as people count: the first addition is addition[1]."""
    key = ""
    for part in place:
        if isinstance(part, int):
            key += f"[{part + 1}]"
        else:
            key += f".{plain(part)[:60]}" if key else plain(part)[:60]
    return key
