"""Get the TOML files of a site folder from disk, whatever state they are in; no meaning is read here."""

from __future__ import annotations

import errno
import os
import stat
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from controller.settings.faults import Fault, Refused, nearest, plain
from controller.settings.units import Spoons

LARGEST_FILE_BYTES = 256 * 1024
RECIPES = "recipes"
Section = Mapping[str, object]
_OF_A_SITE = {"rig.toml", "inputs.toml", "site.toml", "simulated.toml"}
_NO_TABLE = "write settings into it, or copy the file of the demo site"


@dataclass(frozen=True, slots=True)
class Document:
    """One TOML file. `table` is None when the file could not be read; then `fault` says why."""

    file: str
    table: dict[str, object] | None
    fault: Fault | None = None

    @property
    def spoons(self) -> Spoons:
        """Say which spoon the file means; the label's unless it says customary."""
        return Spoons.CUSTOMARY if self.value("spoons") == Spoons.CUSTOMARY.value else Spoons.LABEL

    def value(self, key: str) -> object:
        """Give what is written under a key of the top level, or None."""
        return (self.table or {}).get(key)

    def section(self, key: str) -> Section:
        """Give [key] as written; empty when it is not there or no section."""
        found = self.value(key)
        return found if isinstance(found, dict) else {}

    def sections(self, key: str) -> dict[str, Section]:
        """Give every [key.NAME] as written, by name."""
        return {name: row for name, row in self.section(key).items() if isinstance(row, dict)}

    def listed(self, key: str) -> list[Section]:
        """Give every [[key]] as written; one that is no section counts as empty."""
        found = self.value(key)
        return [row if isinstance(row, dict) else {} for row in found] if isinstance(found, list) else []


@dataclass(frozen=True, slots=True)
class Documents:
    """All files of one site folder. `recipes` is by file name without its ending."""

    rig: Document
    inputs: Document
    site: Document
    recipes: dict[str, Document] = field(default_factory=dict)
    faults: tuple[Fault, ...] = ()

    def all(self) -> list[Document]:
        """List the documents in the order in which faults are told."""
        return [self.rig, self.inputs, self.site, *self.recipes.values()]


def read_documents(folder: Path) -> Documents:
    """Read every settings file of a folder; what cannot be read becomes a fault of its document."""
    recipe_files, faults = _recipe_files(folder)
    return Documents(
        rig=_read(folder, "rig.toml"),
        inputs=_read(folder, "inputs.toml"),
        site=_read(folder, "site.toml"),
        recipes={name.removesuffix(".toml"): _read(folder, f"{RECIPES}/{name}") for name in recipe_files},
        faults=tuple(faults),
    )


def folder_fault(folder: Path) -> Fault | None:
    """Say why a folder cannot be a site at all, or None."""
    problem = ""
    try:
        if not stat.S_ISDIR(os.stat(folder).st_mode):
            problem = "is not a folder"
    except (OSError, ValueError) as error:
        problem = _why(error)
    if not problem:
        return None
    remedy = "name a folder that holds rig.toml, inputs.toml, site.toml and recipes/"
    return Fault(plain(str(folder)), "", "", problem, remedy)


def _read(folder: Path, file: str) -> Document:
    try:
        table = _parsed(_text(_bytes(folder / file)))
    except Refused as refused:
        return Document(file, None, Fault(plain(file), "", "", refused.problem, refused.remedy))
    except FileNotFoundError:
        remedy = _missing_file_remedy(folder, file)
        return Document(file, None, Fault(plain(file), "", "", "is missing", remedy))
    except (OSError, ValueError) as error:
        remedy = "put a readable file of that name in its place"
        return Document(file, None, Fault(plain(file), "", "", _why(error), remedy))
    return Document(file, table)


def _bytes(path: Path) -> bytes:
    # Looked at before it is opened: opening a pipe or a device could wait for ever.
    if not stat.S_ISREG(os.stat(path).st_mode):
        raise Refused("is not a file", "put a TOML text file of that name in its place")
    with path.open("rb") as opened:
        content = opened.read(LARGEST_FILE_BYTES + 1)
    if len(content) > LARGEST_FILE_BYTES:
        raise Refused(
            f"is larger than {LARGEST_FILE_BYTES // 1024} KiB",
            "this is no settings file: put the right one there",
        )
    return content


def _text(content: bytes) -> str:
    try:
        # Some editors put a byte order mark first; it carries no meaning in UTF-8.
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise Refused(
            f"is not UTF-8 text (byte {error.start + 1})", "save it as plain text in UTF-8"
        ) from None
    if not text.strip():
        raise Refused("is empty", _NO_TABLE)
    return text


def _parsed(text: str) -> dict[str, object]:
    try:
        table = tomllib.loads(text)
    except RecursionError:
        raise Refused("is nested too deeply", "this is no settings file: put the right one there") from None
    except ValueError as error:
        raise Refused(f"is not valid TOML: {plain(str(error))[:160]}", "mend it at that place") from None
    if not table:
        raise Refused("holds no settings", _NO_TABLE)
    return table


def _recipe_files(folder: Path) -> tuple[list[str], list[Fault]]:
    try:
        found = sorted(os.listdir(folder / RECIPES))
    except (OSError, ValueError) as error:
        return [], [
            Fault(f"{RECIPES}/", "", "", _why(error), "make that folder and put at least one recipe into it")
        ]
    files = [name for name in found if name.endswith(".toml") and not name.startswith(".")]
    if not files:
        return [], [Fault(f"{RECIPES}/", "", "", "holds no recipe", "put at least one NAME.toml into it")]
    return files, []


def _missing_file_remedy(folder: Path, file: str) -> str:
    try:
        others = {name for name in os.listdir(folder) if name.endswith((".toml", ".txt"))} - _OF_A_SITE
    except OSError:
        others = set()
    near = nearest(file, others)
    return (
        f"{near}; rename it"
        if near.startswith("the nearest")
        else "write it, or copy the one of the demo site"
    )


def _why(error: OSError | ValueError) -> str:
    code = error.errno if isinstance(error, OSError) else None
    words = {
        errno.ENOENT: "is missing",
        errno.ELOOP: "is a link that leads back to itself",
        errno.EACCES: "may not be read",
        errno.ENOTDIR: "is not a folder",
        errno.ENAMETOOLONG: "has too long a name",
    }
    return words.get(code or 0, "cannot be read")
