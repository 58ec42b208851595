"""The rooms are as agreed: what stands at the top, what every file says of itself, what no file says."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
AT_THE_TOP = {
    ".ci",
    ".gitignore",
    "DEVELOPERS.md",
    "README.md",
    "config",
    "controller",
    "firmware_bridge",
    "pyproject.toml",
    "sim",
    "tests",
}
LEFT_BY_TOOLS = {line.rstrip("/") for line in (ROOT / ".gitignore").read_text().splitlines()} | {".git"}
PACKAGES = ("controller", "firmware_bridge", "sim")

# Written in pieces, because this file is looked through as well.
NEVER_SAID = {
    "a place on one machine": r"(?<![\w.~])/(?:" + "|".join(("home", "root", "work", "Users")) + r")/\w",
    "a host that packages come from": r"\b(?:"
    + "|".join(("py" + "pi", "python" + "hosted", "npm" + "js"))
    + r")\.\w",
    "a page that is not in this repository": "|".join(
        ("DESIGN" + r"\.md", "REFERENCES" + r"\.md", r"\.\./sha" + "red")
    ),
    "a secret": "BEGIN [A-Z ]*PRIVATE" + " KEY",
}


def kept_files() -> Iterator[Path]:
    for top in sorted(ROOT.iterdir()):
        if top.name in LEFT_BY_TOOLS or top.name not in AT_THE_TOP:
            continue
        for path in [top] if top.is_file() else sorted(top.rglob("*")):
            if path.is_file() and not LEFT_BY_TOOLS.intersection(path.parts):
                yield path


def python_files() -> list[Path]:
    return [
        path for path in kept_files() if path.suffix == ".py" and path.relative_to(ROOT).parts[0] in PACKAGES
    ]


def test_nothing_stands_at_the_top_but_what_was_agreed():
    standing = {path.name for path in ROOT.iterdir() if not path.match("*.egg-info")}
    assert standing - LEFT_BY_TOOLS - AT_THE_TOP == set()


def test_every_file_of_the_program_says_what_lives_there():
    silent = [
        path for path in python_files() if not ast.get_docstring(ast.parse(path.read_text(encoding="utf-8")))
    ]
    assert silent == []


def test_every_folder_of_the_program_is_a_package():
    folders = {path.parent for path in python_files()}
    assert [folder for folder in folders if not (folder / "__init__.py").is_file()] == []


@pytest.mark.parametrize("what", NEVER_SAID)
def test_no_file_says(what: str):
    pattern = re.compile(NEVER_SAID[what])
    said = [
        f"{path.relative_to(ROOT)}:{number}: {line.strip()}"
        for path in kept_files()
        for number, line in enumerate(path.read_text(encoding="utf-8", errors="replace").splitlines(), 1)
        if pattern.search(line)
    ]
    assert said == []


def test_the_words_looked_for_would_be_found():
    planted = {
        "a place on one machine": "see /" + "home/someone/notes",
        "a host that packages come from": "https://" + "py" + "pi.org/simple",
        "a page that is not in this repository": "as DESIGN" + ".md says",
        "a secret": "-----BEGIN RSA PRIVATE" + " KEY-----",
    }
    assert {what for what in NEVER_SAID if re.search(NEVER_SAID[what], planted[what])} == set(NEVER_SAID)


def test_test_files_have_names_of_their_own():
    names = [path.name for path in kept_files() if path.name.startswith("test_") and path.suffix == ".py"]
    assert len(names) == len(set(names))
