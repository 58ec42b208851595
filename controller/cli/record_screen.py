"""How a recorded batch looks on a terminal: a list, or one batch from its verdict down to its steps.

Only words and layout live here; `screen.py` draws the tables, `controller.record` gives the facts.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

from controller.cli.screen import console, print_lines, table
from controller.record.alarm_story import AlarmStory, alarm_stories
from controller.record.amounts import Amount, Outcome, additions, trims
from controller.record.batch_record import BatchRecord, BatchSummary
from controller.record.events import BatchResult
from controller.record.recorded_plan import known_before
from controller.record.verdict import permit, verdict
from controller.record.words import (
    date_and_time,
    duration,
    litres,
    millilitres,
    percent,
    signed,
    time_of_day,
)

HOW_KNOWN = "Weighed: by the scale under the bottle. Counted: by the motor alone, which air would fool."


def show_list(batches: Sequence[BatchSummary]) -> None:
    """Print one line a night; deliveries beside the tank that follow each other share one."""
    rows = []
    for (beside_tank, _), group in groupby(batches, key=_kind):
        if beside_tank:
            rows.append(_beside_row(list(group)))
        else:
            rows += [_night_row(batch) for batch in group]
    console().print(
        table("Batches", ("batch", "began", "recipe", "volume", "result", "released"), rows, (0, 3))
    )


def _kind(batch: BatchSummary) -> tuple[bool, str]:
    """Tell nights from deliveries beside the tank, and these by what they were for."""
    return batch.beside_tank, batch.started.event.title if batch.beside_tank else ""


def _beside_row(group: Sequence[BatchSummary]) -> tuple[str, ...]:
    first, last = group[0], group[-1]
    numbers = str(first.batch) if first is last else f"{first.batch} to {last.batch}"
    whole = sum(1 for batch in group if batch.ended and batch.ended.event.result == BatchResult.COMPLETE)
    done = f"{whole} of {len(group)} whole"
    return numbers, date_and_time(first.started.wall), first.started.event.title, "", done, "beside the tank"


def _night_row(batch: BatchSummary) -> tuple[str, ...]:
    start, ended = batch.started.event, batch.ended
    result = "no end recorded" if ended is None else ended.event.result
    released = permit(None if ended is None else ended.event).value
    began = date_and_time(batch.started.wall)
    return str(start.batch), began, start.title, litres(start.final_l), result, released


def show_batch(record: BatchRecord) -> None:
    """Print verdict, amounts, trims, alarms, acts and steps."""
    out, start = console(), record.started.event
    began = f"Batch {start.batch}: {start.title}, begun {date_and_time(record.started.row.wall)}"
    print_lines(out, [began, *verdict_lines(record)])
    head = ("input", "target", "amount", "±", "by", "difference", "", "outcome")
    numbers = (1, 2, 3, 5, 6)
    if additions(record):
        out.print(table("Additions", head, [_amount_row(amount) for amount in additions(record)], numbers))
    else:
        print_lines(out, ["No additions."])
    if trims(record):
        out.print(table("pH trims", head, [_amount_row(amount) for amount in trims(record)], numbers))
    steps = [
        (
            str(step.started.event.number),
            step.started.event.title,
            time_of_day(step.started.row.wall),
            duration(step.took_s),
            "no end recorded" if step.ended is None else step.ended.event.result,
            "" if step.ended is None else step.ended.event.note,
        )
        for step in record.steps
    ]
    out.print(table("Steps", ("no.", "step", "began", "took", "result", "note"), steps, (0, 3)))
    alarms = [_alarm_line(story) for story in alarm_stories(record.alarms)]
    acts = [
        f"{time_of_day(act.row.wall)} {act.event.who}: {act.event.act} ({act.event.answer})"
        for act in record.acts
    ]
    print_lines(out, [*alarms, *acts, HOW_KNOWN])


def verdict_lines(record: BatchRecord) -> list[str]:
    """Say what became of the tank and why, what a person should doubt, and what the plan had warned of."""
    found = verdict(record)
    return [
        f"{found.fitness.value.upper()}. {found.because}",
        *(f"{found.doubts_lead}: {doubt}" for doubt in found.doubts),
        *(known.line for known in known_before(record)),
    ]


def _alarm_line(story: AlarmStory) -> str:
    """Say what an alarm meant and what to do; of one that was not announced, only why."""
    first = story.changes[0]
    line = f"{time_of_day(first.row.wall)} {first.event.alarm}: {first.event.text}"
    return f"Alarm {line} {first.event.remedy}" if story.announced else line


def _amount_row(amount: Amount) -> tuple[str, ...]:
    return (
        amount.title,
        millilitres(amount.target_ml),
        millilitres(amount.ml),
        millilitres(amount.uncertainty_ml),
        amount.by,
        signed(millilitres(amount.difference_ml)),
        percent(amount.difference_share),
        "" if amount.outcome is Outcome.AS_PLANNED else amount.said,
    )
