"""The answer of a command to other programs, and to a file: one JSON object on one line, or a whole file.

Nothing else lives here; what people read is laid out by `screen.py`.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path

import click


def json_line(answer: Mapping[str, object]) -> str:
    """Write one JSON object (RFC 8259, in ASCII); raises ValueError on a number that JSON has no word for."""
    return json.dumps(answer, allow_nan=False) + "\n"


def print_json(answer: Mapping[str, object]) -> None:
    """Print one JSON object on stdout."""
    click.echo(json_line(answer), nl=False)


def write_file(place: Path, content: str) -> None:
    """Write a file in UTF-8, line ends as they are; raises OSError that names the file.

    What fails while writing, and not while opening, would not name it by itself: a disk that is full.
    """
    try:
        place.write_bytes(content.encode("utf-8"))
    except OSError as error:
        error.filename = error.filename or str(place)
        raise
