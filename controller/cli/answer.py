"""The answer of a command as JSON: one object on one line.

Nothing else lives here; what people read is laid out by `screen.py`.
"""

from __future__ import annotations

import json
from collections.abc import Mapping

import click


def json_line(answer: Mapping[str, object]) -> str:
    """Write one JSON object (RFC 8259, in ASCII); raises ValueError on a number that JSON has no word for."""
    return json.dumps(answer, allow_nan=False) + "\n"


def print_json(answer: Mapping[str, object]) -> None:
    """Print one JSON object on stdout."""
    click.echo(json_line(answer), nl=False)
