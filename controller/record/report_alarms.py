"""The alarms of a batch in its report: what was told, and, folded away, what acted without an announcement.

Wording and layout of this one section; the grouping is in `alarm_story.py`.
"""

from __future__ import annotations

from collections.abc import Sequence

from controller.record.alarm_story import alarm_stories
from controller.record.batch_record import BatchRecord, Timed
from controller.record.events import AlarmChange
from controller.record.page import Html, element, folded, join, section, table, text
from controller.record.words import time_of_day


def alarms_section(record: BatchRecord) -> Html:
    """Tell every alarm, with what became of it, and fold away what was not announced."""
    stories = alarm_stories(record.alarms)
    silent = [story.changes for story in stories if not story.announced]
    rest = folded(f"Not announced: {len(silent)}", _silences(silent)) if silent else Html()
    told = [story for story in stories if story.announced]
    if not told:
        return section("Alarms", element("p", "There was none."), rest)
    items = []
    for story in told:
        first = story.changes[0].event
        when = ", ".join(f"{change.event.state} {time_of_day(change.row.wall)}" for change in story.changes)
        came_first = " It came first; later ones may follow from it." if first.first_out else ""
        heading = element("h3", f"⚠ {first.alarm} (priority {first.priority})")
        body = join(
            heading,
            element("p", f"{when}.{came_first}", "soft"),
            element("p", join(element("strong", "What it means: "), text(first.text))),
            element("p", join(element("strong", "What to do: "), text(first.remedy))),
        )
        items.append(element("li", body, "bad"))
    return section("Alarms", Html(f'<ol class="plain">{join(*items)}</ol>'), rest)


def _silences(silent: Sequence[Sequence[Timed[AlarmChange]]]) -> Html:
    """List what stood or was shelved without being announced, with the reason."""
    rows = [
        (time_of_day(change.row.wall), change.event.alarm, change.event.state, change.event.text)
        for changes in silent
        for change in changes
    ]
    return table("Causes that acted without an announcement, and shelves", ("time", "alarm", "", "why"), rows)
