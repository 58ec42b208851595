"""One trace over time as inline SVG, with a band or a goal and marks whose shape says what they are.

Only drawing lives here: what is plotted is chosen in `report_plots.py`. Colours come from the page's style
sheet, and none of them is the only sign of anything.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise

from controller.record.axis import Point, Scale, round_ticks, thin, time_ticks
from controller.record.page import Html, text

WIDTH, HEIGHT = 420, 236
_BEYOND_REASON = 1e6
LEFT, RIGHT, TOP, BOTTOM = 40, 10, 14, 26
ASCENT, DESCENT, AIR = 10, 3, 3
"""What a word takes above and below its base line, and the least distance to a trace."""
CHARACTER = 6.5
"""The usual width of a character of a label; a guess, for no font is known here."""


@dataclass(frozen=True, slots=True)
class Plot:
    """What one plot shows. `traces` are unbroken runs of (seconds since start, value).

    `diamonds` are points that may be judged, `arrows` are moments marked at the foot, `band` is a range
    of values, `goal` one value; both carry their own label. `truth`, where it is known, is drawn as a thin
    solid line, and the traces are dotted then; `flags` are moments marked from head to foot; `unit` stands
    above the scale.
    """

    name: str
    title: str
    description: str
    start: datetime
    from_s: float
    to_s: float
    traces: tuple[tuple[Point, ...], ...]
    decimals: int
    least_span: float
    diamonds: tuple[Point, ...] = ()
    arrows: tuple[float, ...] = ()
    band: tuple[float, float, str] | None = None
    goal: tuple[float, str] | None = None
    truth: tuple[tuple[Point, ...], ...] = ()
    flags: tuple[float, ...] = ()
    unit: str = ""

    @property
    def lines(self) -> tuple[tuple[Point, ...], ...]:
        """Give everything that is drawn as a line."""
        return self.traces + self.truth


def draw(plot: Plot) -> Html:
    """Draw the plot with its title and description for those who listen."""
    across = Scale(plot.from_s, max(plot.to_s, plot.from_s + 60.0), LEFT, WIDTH - RIGHT)
    up = _value_scale(plot)
    parts = [
        f'<svg viewBox="0 0 {WIDTH} {HEIGHT}" role="img" '
        f'aria-labelledby="{plot.name}-title {plot.name}-desc">',
        f'<title id="{plot.name}-title">{text(plot.title)}</title>',
        f'<desc id="{plot.name}-desc">{text(plot.description)}</desc>',
        *_band(plot, across, up),
        *_unit(plot),
        *_grid(plot, across, up),
        *_flags(plot, across),
        *_goal(plot, across, up),
        *_traces(plot, across, up),
        *_arrows(plot, across),
        *_diamonds(plot, across, up),
        "</svg>",
    ]
    return Html("".join(parts))


def _value_scale(plot: Plot) -> Scale:
    values = [value for trace in plot.lines for _, value in trace] + [value for _, value in plot.diamonds]
    values += plot.band[:2] if plot.band else ()
    values += (plot.goal[0],) if plot.goal else ()
    sane = [min(max(value, -_BEYOND_REASON), _BEYOND_REASON) for value in values]
    low, high = min(sane, default=0.0), max(sane, default=1.0)
    margin = max((plot.least_span - (high - low)) / 2, (high - low) * 0.06)
    low = low - margin if low < 0 else max(0.0, low - margin)
    # A label at the top of the scale must not touch the unit above it.
    return Scale(low, high + margin, HEIGHT - BOTTOM, TOP + (ASCENT if plot.unit else 0))


def _grid(plot: Plot, across: Scale, up: Scale) -> list[str]:
    parts = []
    for value in round_ticks(up.low, up.high):
        y = up.at(value)
        label = f"{value:.{plot.decimals}f}".replace("-", "−")
        parts.append(f'<line class="grid" x1="{LEFT}" x2="{WIDTH - RIGHT}" y1="{y:.1f}" y2="{y:.1f}"/>')
        parts.append(f'<text class="soft" x="{LEFT - 6}" y="{y + 4:.1f}" text-anchor="end">{label}</text>')
    foot = HEIGHT - BOTTOM
    for at_s, label in time_ticks(plot.start, across.low, across.high):
        x = across.at(at_s)
        anchor = "end" if x > WIDTH - RIGHT - 18 else "middle"
        parts.append(f'<line class="grid" x1="{x:.1f}" x2="{x:.1f}" y1="{foot}" y2="{foot + 5}"/>')
        parts.append(f'<text class="soft" x="{x:.1f}" y="{foot + 18}" text-anchor="{anchor}">{label}</text>')
    return parts


def _band(plot: Plot, across: Scale, up: Scale) -> list[str]:
    if plot.band is None:
        return []
    low, high, label = plot.band
    top, bottom = up.at(high), up.at(low)
    left = _clear_of_flags(plot, across, label)
    y = _clear_of_traces(
        plot, across, up, left, label, (bottom - 5, top + 14, bottom + 15, top - 6, bottom + 30)
    )
    return [
        f'<rect class="band" x="{LEFT}" width="{WIDTH - RIGHT - LEFT}" '
        f'y="{top:.1f}" height="{bottom - top:.1f}"/>',
        f'<text x="{left:.1f}" y="{y:.1f}">{text(label)}</text>',
    ]


def _goal(plot: Plot, across: Scale, up: Scale) -> list[str]:
    if plot.goal is None:
        return []
    value, label = plot.goal
    y = up.at(value)
    left = _clear_of_flags(plot, across, label)
    label_y = _clear_of_traces(plot, across, up, left, label, (y + 16, y - 7, y + 30, y - 21, y + 44))
    return [
        f'<line class="goal" x1="{LEFT}" x2="{WIDTH - RIGHT}" y1="{y:.1f}" y2="{y:.1f}"/>',
        f'<text x="{left:.1f}" y="{label_y:.1f}">{text(label)}</text>',
    ]


def _traces(plot: Plot, across: Scale, up: Scale) -> list[str]:
    parts = []
    measured = "dotted" if plot.truth else "trace"
    kinds = [measured] * len(plot.traces) + ["true"] * len(plot.truth)
    for kind, trace in zip(kinds, plot.lines, strict=True):
        points = [f"{across.at(at_s):.1f},{up.at(value):.1f}" for at_s, value in thin(trace, WIDTH // 2)]
        if len(points) == 1:
            x, y = points[0].split(",")
            parts.append(f'<circle class="block" cx="{x}" cy="{y}" r="2"/>')
        else:
            parts.append(f'<polyline class="{kind}" points="{" ".join(points)}"/>')
    return parts


def _diamonds(plot: Plot, across: Scale, up: Scale) -> list[str]:
    parts = []
    for at_s, value in plot.diamonds:
        x, y = across.at(at_s), up.at(value)
        parts.append(f'<path class="mark" d="M{x:.1f} {y - 6:.1f}l6 6l-6 6l-6 -6z"/>')
    return parts + _last_label(plot, across, up)


def _last_label(plot: Plot, across: Scale, up: Scale) -> list[str]:
    if not plot.diamonds:
        return []
    at_s, value = plot.diamonds[-1]
    label = f"{value:.{plot.decimals + 1}f}"
    x, y = across.at(at_s), up.at(value)
    left = x - 10 - CHARACTER * len(label) if x > WIDTH / 2 else x + 10
    places = [y + side * away for away in (11, 20, 30, 40) for side in (-1, 1)]
    label_y = _clear_of_traces(plot, across, up, left, label, places)
    return [f'<text class="strong" x="{left:.1f}" y="{label_y:.1f}">{label}</text>']


def _clear_of_flags(plot: Plot, across: Scale, label: str) -> float:
    """Give the leftmost place at which no flag's line runs through a label; the edge if there is none."""
    left, width = LEFT + 5.0, CHARACTER * len(label)
    for x in sorted(across.at(at_s) for at_s in plot.flags):
        if left - AIR <= x <= left + width + AIR:
            left = x + 5.0
    return left if left + width <= WIDTH - RIGHT else LEFT + 5.0


def _clear_of_traces(
    plot: Plot, across: Scale, up: Scale, left: float, label: str, places: Sequence[float]
) -> float:
    """Give the first of the base lines at which a label crosses no trace and no diamond; else the first."""
    right = left + CHARACTER * len(label)
    crossed: list[tuple[float, float]] = []
    for trace in plot.lines:
        drawn = [(across.at(at_s), up.at(value)) for at_s, value in trace]
        for (x, y), (next_x, next_y) in pairwise((*drawn, drawn[-1])):
            if x <= right and next_x >= left:
                crossed.append((min(y, next_y), max(y, next_y)))
    for at_s, value in plot.diamonds:
        if left - 6 <= across.at(at_s) <= right + 6:
            crossed.append((up.at(value) - 6, up.at(value) + 6))
    for y in places:
        inside = y - ASCENT >= TOP and y + DESCENT <= HEIGHT - BOTTOM
        if inside and not any(low < y + DESCENT + AIR and high > y - ASCENT - AIR for low, high in crossed):
            return y
    return places[0]


def _arrows(plot: Plot, across: Scale) -> list[str]:
    foot = HEIGHT - BOTTOM
    return [f'<path class="tick" d="M{across.at(at_s):.1f} {foot - 9}l4 9h-8z"/>' for at_s in plot.arrows]


def _flags(plot: Plot, across: Scale) -> list[str]:
    tall = HEIGHT - BOTTOM - TOP
    return [
        f'<path class="alarm" d="M{x:.1f} {TOP}l-4 -9h8z"/>'
        f'<rect class="alarm" x="{x - 0.5:.1f}" y="{TOP}" width="1" height="{tall}"/>'
        for x in (across.at(at_s) for at_s in plot.flags)
    ]


def _unit(plot: Plot) -> list[str]:
    return [f'<text class="soft" x="0" y="{ASCENT}">{text(plot.unit)}</text>'] if plot.unit else []
