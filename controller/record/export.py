"""A batch for other programs: plain dicts with everything for JSON, or one CSV table for a spreadsheet.

As dicts: `batch`, `warnings` (of the plan), `additions` (targets against amounts), `released`, `chain`, and
`events`, a list in order of objects with `kind` (the table), `seq`, `t_s` (seconds since the start), `wall`
and the event's fields; the field `kind` of a step is `step_kind` here.
CSV: one row an event with the columns kind, seq, t_s, wall and then every field of any kind, empty
where a kind has no such field. Units are in the names. No file is opened here.
"""

from __future__ import annotations

import csv
import io
from dataclasses import fields

from controller.record.amounts import Amount, additions, trims
from controller.record.batch_record import BatchRecord, Timed
from controller.record.chain import ChainCheck
from controller.record.events import AnyEvent
from controller.record.recorded_plan import known_before
from controller.record.tables import TABLE_OF, TABLES
from controller.record.verdict import Fitness, verdict

_EVERY_ROW = ("kind", "seq", "t_s", "wall")
_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


def batch_as_json(record: BatchRecord) -> dict[str, object]:
    """Give the whole batch as dicts, lists, strings, numbers, booleans and None."""
    start = record.started.event
    found = verdict(record)
    return {
        "batch": record.batch,
        "recipe": start.recipe,
        "title": start.title,
        "started": record.started.row.wall.isoformat(),
        "duration_s": record.duration_s,
        "result": None if record.ended is None else record.ended.event.result,
        "reason": None if record.ended is None else record.ended.event.reason,
        "released": found.fitness in (Fitness.RELEASED, Fitness.KEPT),
        "verdict": found.fitness.value,
        "because": found.because,
        "doubts": list(found.doubts),
        "warnings": [{"rule": known.rule, "text": known.text} for known in known_before(record)],
        "additions": [_amount(amount) for amount in additions(record)],
        "trims": [_amount(amount) for amount in trims(record)],
        "chain": chain_as_json(record.chain),
        "events": [_event(timed) for timed in record.events],
    }


def chain_as_json(chain: ChainCheck) -> dict[str, object]:
    """Give the check of a stretch of the record: rows looked at, the last link, and every fault."""
    return {
        "rows": chain.rows,
        "head_seq": chain.head.seq,
        "head": chain.head.chain,
        "faults": [
            {"kind": fault.kind.value, "seq": fault.seq, "text": fault.text} for fault in chain.faults
        ],
    }


def export_csv(record: BatchRecord) -> str:
    """Write the batch as one CSV table (RFC 4180), a row an event.

    Text that a spreadsheet would take for a formula gets an apostrophe in front; JSON has it as it is.
    """
    names = dict.fromkeys(
        _name(column.name) for table in TABLES if table.has_batch for column in table.columns
    )
    out = io.StringIO(newline="")
    writer = csv.DictWriter(out, [*_EVERY_ROW, *names], restval="")
    writer.writeheader()
    for timed in record.events:
        writer.writerow({name: _csv_cell(value) for name, value in _event(timed).items()})
    return out.getvalue()


def _event(timed: Timed[AnyEvent]) -> dict[str, object]:
    event = timed.event
    return {
        "kind": TABLE_OF[type(event)].name,
        "seq": timed.row.seq,
        "t_s": round(timed.t_s, 6),
        "wall": timed.row.wall.isoformat(),
        **{_name(field.name): getattr(event, field.name) for field in fields(event)},
    }


def _name(field: str) -> str:
    """Keep a field's name apart from the four that every row begins with."""
    return f"step_{field}" if field in _EVERY_ROW else field


def _amount(amount: Amount) -> dict[str, object]:
    return {
        "input": amount.input,
        "title": amount.title,
        "target_ml": amount.target_ml,
        "recorded_ml": amount.ml,
        "uncertainty_ml": amount.uncertainty_ml,
        "outcome": amount.outcome.value,
        "reason": amount.reason,
    }


def _csv_cell(value: object) -> object:
    if value is None:
        return ""
    if isinstance(value, bool):
        return int(value)
    if isinstance(value, str) and value.startswith(_FORMULA_STARTS):
        return "'" + value
    return value
