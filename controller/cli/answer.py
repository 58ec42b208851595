"""The answer of a command as JSON: one object on one line of stdout.

Nothing else lives here; what people read is `screen.py`.
"""

from __future__ import annotations

import json
from collections.abc import Mapping

import click


def print_json(answer: Mapping[str, object]) -> None:
    """Print one JSON object (RFC 8259, in ASCII); raises ValueError on a number that JSON has no word for."""
    click.echo(json.dumps(answer, allow_nan=False))
