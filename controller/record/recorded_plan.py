"""Reads the plan that a batch was recorded to follow: its lines, and what it warned of before the night.

What cannot be read is left out, for the record is evidence and may be damaged. Adding up is in `amounts.py`.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from controller.record.batch_record import BatchRecord


@dataclass(frozen=True, slots=True)
class PlanWarned:
    """Something that the plan warned of; `rule` is a short fixed name."""

    rule: str
    text: str

    @property
    def line(self) -> str:
        """Say it in one line."""
        return f"Warning ({self.rule}): {self.text}"


def known_before(record: BatchRecord) -> tuple[PlanWarned, ...]:
    """Give what was warned of before the night, in order of the plan."""
    return tuple(
        PlanWarned(str(line.get("rule", "")), text)
        for line in plan_lines(record.started.event.plan_json, "warnings")
        if isinstance(text := line.get("text"), str)
    )


def plan_lines(plan_json: str, key: str) -> Sequence[Mapping[str, Any]]:
    """Give the lines of one list of the plan; what is no such line is left out."""
    try:
        plan = json.loads(plan_json)
    except (ValueError, RecursionError):
        return ()
    lines = plan.get(key) if isinstance(plan, Mapping) else None
    return [line for line in lines if isinstance(line, Mapping)] if isinstance(lines, list) else ()
