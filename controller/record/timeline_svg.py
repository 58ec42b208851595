"""The steps of a batch as lanes over time, inline SVG: one lane a kind of step, one block a step.

Only drawing lives here. A step that did not end well is hollow and dashed; alarms are marked on top.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from controller.record.axis import Scale, time_ticks
from controller.record.batch_record import StepRecord
from controller.record.events import StepResult
from controller.record.page import Html, text
from controller.record.words import duration

WIDTH, LEFT, RIGHT, TOP, LANE, FOOT = 420, 106, 8, 20, 19, 24
LEAST_BLOCK = 2.5


def draw_timeline(
    steps: Sequence[StepRecord], alarms_s: Sequence[float], start: datetime, from_s: float, to_s: float
) -> Html:
    """Draw the steps that began between `from_s` and `to_s` (seconds since the start)."""
    lanes = list(dict.fromkeys(step.started.event.kind for step in steps))
    height = TOP + LANE * len(lanes) + FOOT
    across = Scale(from_s, max(to_s, from_s + 60.0), LEFT, WIDTH - RIGHT)
    blocks = (_block(step, TOP + LANE * lanes.index(step.started.event.kind), across) for step in steps)
    parts = [
        f'<svg viewBox="0 0 {WIDTH} {height}" role="img" aria-labelledby="timeline-title timeline-desc">',
        '<title id="timeline-title">Steps over time</title>',
        f'<desc id="timeline-desc">{text(_description(steps, lanes))}</desc>',
        *_lanes(lanes),
        *_times(across, start, height),
        *blocks,
        *(_alarm(across.at(at_s), height) for at_s in alarms_s),
        "</svg>",
    ]
    return Html("".join(parts))


def _description(steps: Sequence[StepRecord], lanes: Sequence[str]) -> str:
    return f"{len(steps)} steps in {len(lanes)} lanes, one lane a kind of step; the table below has them all."


def _lanes(lanes: Sequence[str]) -> list[str]:
    parts = []
    for place, name in enumerate(lanes):
        y = TOP + LANE * (place + 1)
        parts.append(f'<line class="grid" x1="0" x2="{WIDTH - RIGHT}" y1="{y}" y2="{y}"/>')
        parts.append(f'<text x="0" y="{y - 5}">{text(name if len(name) <= 17 else name[:16] + "…")}</text>')
    return parts


def _times(across: Scale, start: datetime, height: int) -> list[str]:
    parts = []
    for at_s, label in time_ticks(start, across.low, across.high):
        x = across.at(at_s)
        anchor = "end" if x > WIDTH - RIGHT - 18 else "middle"
        parts.append(f'<line class="grid" x1="{x:.1f}" x2="{x:.1f}" y1="{TOP}" y2="{height - FOOT}"/>')
        parts.append(f'<text class="soft" x="{x:.1f}" y="{height - 8}" text-anchor="{anchor}">{label}</text>')
    return parts


def _block(step: StepRecord, top: float, across: Scale) -> str:
    begin = across.at(step.started.t_s)
    end = across.high if step.ended is None else step.ended.t_s
    width = max(LEAST_BLOCK, across.at(end) - begin)
    well = step.ended is not None and step.ended.event.result == StepResult.DONE
    event = step.started.event
    told = f"step {event.number}, {event.kind}: {event.title}, {duration(step.took_s)}"
    return (
        f'<rect class="{"block" if well else "open"}" x="{begin:.1f}" y="{top + 4}" '
        f'width="{width:.1f}" height="{LANE - 8}"><title>{text(told)}</title></rect>'
    )


def _alarm(x: float, height: int) -> str:
    return (
        f'<path class="alarm" d="M{x:.1f} {TOP - 2}l-5 -9h10z"><title>alarm</title></path>'
        f'<rect class="alarm" x="{x - 0.5:.1f}" y="{TOP}" width="1" height="{height - FOOT - TOP}"/>'
    )
