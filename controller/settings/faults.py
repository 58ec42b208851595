"""One fault of a settings file, all faults of a site, and how both are written on one line.

Only the words live here; what is a fault is decided by the schemas, `references.py` and `documents.py`.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from dataclasses import dataclass

LONGEST_VALUE = 60


@dataclass(frozen=True, slots=True)
class Fault:
    """One mistake in one file. `key` and `value` are empty when the whole file is at fault."""

    file: str
    key: str
    value: str
    problem: str
    remedy: str

    def __str__(self) -> str:
        """Write the fault on one line: file, key, value, problem, remedy."""
        place = f"{self.file}: {self.key}" if self.key else self.file
        if self.value:
            place = f"{place} = {self.value}"
        return f"{place}: {self.problem}; {self.remedy}"


class SiteFaults(Exception):
    """Every fault of every file of one site folder; str() gives one line each."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults: tuple[Fault, ...] = tuple(faults)
        super().__init__(self.faults)

    def __str__(self) -> str:
        """Write one line for each fault."""
        return "\n".join(str(fault) for fault in self.faults)


class Refused(ValueError):
    """A value was refused, for a reason and with a remedy."""

    def __init__(self, problem: str, remedy: str) -> None:
        self.problem = problem
        self.remedy = remedy
        super().__init__(f"{problem}; {remedy}")


def nearest(word: object, known: Iterable[str]) -> str:
    """Name the known word that looks most like `word`, or list what is known."""
    words = sorted(known)
    if not words:
        return "none is known"
    close = close_word(word, words)
    if close is not None:
        return f'the nearest is "{plain(close)}"'
    listed = plain(", ".join(words[:12]))
    return f"known: {listed}" + (" and more" if len(words) > 12 else "")


def close_word(word: object, known: Iterable[str]) -> str | None:
    """Give the known word that looks most like `word`; None when none looks like it."""
    close = difflib.get_close_matches(str(word)[:LONGEST_VALUE].lower(), sorted(known), n=1, cutoff=0.6)
    return close[0] if close else None


def plain(text: str) -> str:
    """Escape everything that would break one line of a terminal."""
    return "".join(c if c.isprintable() else ascii(c)[1:-1] for c in text)


def written(value: object) -> str:
    """Write a value as its file has it, on one line and at most 60 characters long."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        text = f'"{plain(value[: LONGEST_VALUE + 1])}"'
    elif isinstance(value, dict):
        return "{ a table }"
    elif isinstance(value, list):
        return "[ a list ]"
    elif isinstance(value, int) and abs(value) >= 10**LONGEST_VALUE:
        return "(a number of more than 60 digits)"
    else:
        text = plain(str(value))
    return text if len(text) <= LONGEST_VALUE else f"{text[: LONGEST_VALUE - 3]}..."
