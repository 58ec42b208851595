"""The batch report: one self-contained HTML page from which a person can see what is in the tank.

What is said, and in which order, lives here: first the verdict, then the proof. Reading the record is
in `batch_record.py`, adding up in `amounts.py`, drawing in the `*_svg.py` files.
"""

from __future__ import annotations

from collections.abc import Sequence

from controller.record.amount_words import HOW_KNOWN, doubt, weighed_line
from controller.record.amounts import Amount, Outcome, additions, rinses, trims
from controller.record.batch_record import BatchRecord, StepRecord
from controller.record.events import AlarmState, StepResult
from controller.record.page import Html, element, facts, folded, join, page, section, table, text
from controller.record.recorded_plan import known_before
from controller.record.report_alarms import alarms_section
from controller.record.report_plots import level_figure, ph_figure
from controller.record.timeline_svg import draw_timeline
from controller.record.verdict import Fitness, kept_from_s, release_reading, verdict
from controller.record.words import (
    acidity,
    celsius,
    conductivity,
    date_and_time,
    duration,
    litres,
    millilitres,
    percent,
    signed,
    time_of_day,
)

_MARK = {
    Fitness.RELEASED: ("good", "✓"),
    Fitness.KEPT: ("good", "✓"),
    Fitness.WITHDRAWN: ("bad", "✕"),
    Fitness.UNFINISHED: ("warn", "?"),
    Fitness.REFUSED: ("bad", "✕"),
    Fitness.BESIDE: ("warn", "–"),
}


def report_html(record: BatchRecord) -> str:
    """Make the page. Nothing in it is fetched from elsewhere, and it runs no script."""
    start = record.started.event
    title = f"Batch {start.batch}: {start.title}"
    body = join(
        element("h1", title),
        element("p", f"Begun {date_and_time(record.started.row.wall)}, recipe {start.recipe}.", "soft"),
        _verdict(record),
        _facts(record),
        _known_before(record),
        _amounts(record),
        _timeline(record),
        _readings(record),
        _decisions(record),
        alarms_section(record),
        _people(record),
        _steps(record),
        _chain(record),
    )
    return page(title, body)


def _verdict(record: BatchRecord) -> Html:
    found = verdict(record)
    kind, mark = _MARK[found.fitness]
    if record.chain.faults:
        kind, mark = "bad", "!"
    said = element(
        "p", join(Html(f'<span aria-hidden="true">{mark}</span> '), text(found.fitness.value)), "say"
    )
    doubts = (
        element("p", join(element("strong", f"{found.doubts_lead}: "), text(doubt))) for doubt in found.doubts
    )
    return Html(f'<div class="verdict {kind}">{said}{element("p", found.because)}{join(*doubts)}</div>')


def _known_before(record: BatchRecord) -> Html:
    warnings = known_before(record)
    if not warnings:
        return Html()
    items = (
        element("li", join(element("strong", f"{known.rule}: "), text(known.text)), "warn")
        for known in warnings
    )
    said = element("p", "The plan warned of this, and the batch was begun all the same.", "soft")
    return section("Known before the night", said, Html(f'<ol class="plain">{join(*items)}</ol>'))


def _facts(record: BatchRecord) -> Html:
    start, reading = record.started.event, release_reading(record)
    kept_s = kept_from_s(record)
    mixed_s = record.duration_s if kept_s is None else kept_s
    pairs = [
        ("Final volume, planned", litres(start.final_l)),
        ("Left from before (heel)", litres(start.heel_l)),
        ("pH window", f"{start.ph_low:g} to {start.ph_high:g}"),
        ("pH, last accepted", acidity(None if reading is None else reading.event.ph)),
        ("Temperature then", celsius(None if reading is None else reading.event.temperature_c)),
        ("Conductivity, for reference", conductivity(None if reading is None else reading.event.ec_us_cm)),
        ("Start to end" if kept_s is None else "Start to release", duration(mixed_s)),
        ("Planned, without trims", duration(start.expected_s)),
    ]
    if kept_s is not None:
        pairs.append(("Kept for", duration(record.duration_s - kept_s)))
    return facts(pairs)


def _amounts(record: BatchRecord) -> Html:
    planned = additions(record)
    parts = [
        _amount_table("Additions: what was planned, and what came", planned)
        if planned
        else element("p", "No addition was planned or dosed.")
    ]
    if corrections := trims(record):
        parts.append(_amount_table("pH trims: what was asked for, and what came", corrections))
    if water := rinses(record):
        parts.append(_amount_table("Water through the dosing line (rinses), part of the volume", water))
    known = join(text(f"{weighed_line((*planned, *corrections))} "), text(HOW_KNOWN))
    return section("What is in the tank", *parts, element("p", known, "soft"))


def _amount_table(caption: str, amounts: Sequence[Amount]) -> Html:
    rows = [_amount_row(amount) for amount in amounts]
    return table(caption, ("input", "target", "amount", "difference"), rows, numbers=(1, 2, 3), kind="even")


def _amount_row(amount: Amount) -> tuple[str, ...]:
    name = join(text(amount.title), element("small", amount.rate) if amount.rate else Html())
    if amount.outcome is not Outcome.AS_PLANNED:
        name = join(name, element("small", f"⚠ {amount.said}", "bad"))
    return (
        name,
        millilitres(amount.target_ml),
        join(text(millilitres(amount.ml)), element("small", doubt(amount))),
        join(
            text(signed(millilitres(amount.difference_ml))),
            element("small", percent(amount.difference_share)),
        ),
    )


def _timeline(record: BatchRecord) -> Html:
    if not record.steps:
        return section("Steps", element("p", "No step was begun."))
    kept_s = kept_from_s(record)
    to_s = record.duration_s if kept_s is None else kept_s
    shown = [step for step in record.steps if kept_s is None or step.started.t_s < kept_s]
    raised = [change for change in record.alarms if change.event.state == AlarmState.RAISED]
    alarms_s = [change.t_s for change in raised if change.t_s <= to_s]
    drawn = draw_timeline(shown, alarms_s, record.started.row.wall, 0.0, to_s)
    legend = "One lane a kind of step, over the time of day. Dashed and hollow: did not end well."
    legend += " ▼ and the line below it: an alarm." if alarms_s else ""
    legend += " What came after the release is left out." if kept_s is not None else ""
    legend += " The table of all steps is near the end of the page."
    return section("Steps", element("figure", join(drawn, element("figcaption", legend)), "steps"))


def _steps(record: BatchRecord) -> Html:
    if not record.steps:
        return Html()
    head = ("no.", "step", "began", "took")
    rows = [_step_row(step) for step in record.steps]
    caption = "The time each step took, of the time planned for it"
    return section("Every step", table(caption, head, rows, numbers=(0, 2, 3)))


def _step_row(step: StepRecord) -> tuple[str, ...]:
    event = step.started.event
    what = text(event.title or event.kind)
    if step.ended is not None and step.ended.event.note:
        what = join(what, element("small", step.ended.event.note))
    if step.ended is None or step.ended.event.result != StepResult.DONE:
        said = "no end recorded" if step.ended is None else step.ended.event.result
        what = join(what, element("small", f"⚠ {said}", "bad"))
    return (
        str(event.number),
        what,
        time_of_day(step.started.row.wall),
        join(text(duration(step.took_s)), element("small", f"of {duration(event.expected_s)}")),
    )


def _readings(record: BatchRecord) -> Html:
    kept_s = kept_from_s(record)
    until_s = record.duration_s if kept_s is None else kept_s
    figures = [level_figure(record, "level", 0.0, until_s), ph_figure(record, "ph", 0.0, until_s)]
    parts = [element("div", join(*figures), "plots")]
    if kept_s is not None and record.duration_s > kept_s:
        kept = [
            level_figure(record, "level-kept", kept_s, record.duration_s),
            ph_figure(record, "ph-kept", kept_s, record.duration_s),
        ]
        parts += [element("h3", "While it was kept"), element("div", join(*kept), "plots")]
    return section("Level and pH", *parts)


def _decisions(record: BatchRecord) -> Html:
    if not record.decisions:
        return section("Decisions about pH", element("p", "None was recorded."))
    items = (
        element(
            "li",
            join(
                element("h3", f"{time_of_day(made.row.wall)}, step {made.event.number}"),
                facts(
                    [
                        ("It believed", made.event.believed or "–"),
                        ("It did", made.event.did or "–"),
                        ("What came of the one before", made.event.came or "–"),
                    ]
                ),
            ),
        )
        for made in record.decisions
    )
    return section("Decisions about pH", Html(f'<ol class="plain">{join(*items)}</ol>'))


def _people(record: BatchRecord) -> Html:
    acts = [(time_of_day(a.row.wall), a.event.who, a.event.act, a.event.answer) for a in record.acts]
    asked = (
        table(
            "What people, the schedule and remote commands asked for",
            ("time", "who", "asked for", "answer"),
            acts,
        )
        if acts
        else element("p", "Nobody asked for anything.")
    )
    states = [(time_of_day(s.row.wall), s.event.state, s.event.by, s.event.reason) for s in record.states]
    changes = table("Run states", ("time", "state", "by", "reason"), states)
    return section("Who did what", asked, folded("Changes of the run state", changes) if states else Html())


def _chain(record: BatchRecord) -> Html:
    chain = record.chain
    first, last = record.started.row.seq, chain.head.seq
    if not chain.faults:
        said = f"Rows {first} to {last} of the record were checked: {chain.rows} rows, and the chain holds."
        proof = element("p", join(text("Last link: "), element("code", chain.head.chain)), "soft")
        return section("Is this record whole?", element("p", said), proof)
    rows = [
        ("–" if fault.seq is None else str(fault.seq), fault.kind.value, fault.text) for fault in chain.faults
    ]
    warning = element("p", "No. What this page says of these rows is not proven.", "bad")
    return section("Is this record whole?", warning, table("Faults", ("row", "fault", "what"), rows))
