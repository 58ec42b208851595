"""The cause-and-effect matrix as a drawing: causes down, effects across, a mark where they meet.

Only drawing lives here. The drawing stands alone: it fetches nothing, runs no script, and prints in grey.
"""

from __future__ import annotations

from collections.abc import Sequence

from controller.record.page import text
from controller.run.matrix import EFFECTS, LEGEND, Mark, MatrixRow
from controller.settings.values import Site

LEFT, CELL, ROW, HEAD, FOOT, RIGHT = 350, 34, 24, 220, 90, 160
RESPONSE_W = 60
STYLE = "".join(
    f"#matrix {selector}{{{look}}}"
    for selector, look in (
        ("text", "font:12px system-ui,sans-serif;fill:#1c2320"),
        (".s", "fill:#59645e;font-size:11px"),
        (".t", "font-size:16px;font-weight:700"),
        (".h", "font-weight:700"),
        ("line", "stroke:#cdd3cd"),
        (".X", "fill:#1c2320"),
        (".r", "fill:#fff;stroke:#1c2320;stroke-width:1.5"),
        (".a", "fill:#8f9a93"),
    )
)


def as_svg(site: Site, rows: Sequence[MatrixRow]) -> str:
    """Draw the matrix of one site (SVG 1.1)."""
    width = LEFT + RESPONSE_W + CELL * len(EFFECTS) + RIGHT
    height = HEAD + ROW * len(rows) + FOOT
    title = f"Cause-and-effect matrix of {site.policy.title}"
    parts = [
        f'<svg id="matrix" xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" width="{width}" '
        f'height="{height}" role="img" aria-labelledby="matrix-title">',
        f'<title id="matrix-title">{text(title)}</title><style>{STYLE}</style>',
        f'<rect width="{width}" height="{height}" fill="#fff"/>',
        f'<text class="t" x="8" y="24">{text(title)}</text>',
        f'<text class="h" x="8" y="{HEAD - 8}">cause (delay; clears)</text>',
        f'<text class="h" x="{LEFT}" y="{HEAD - 8}">response</text>',
        *(_effect_head(place, effect) for place, effect in enumerate(EFFECTS)),
    ]
    for place, row in enumerate(rows):
        parts += _row(row, HEAD + ROW * place, width)
    parts += _legend(HEAD + ROW * len(rows) + 24)
    return "".join(parts) + "</svg>\n"


def _column(place: int) -> float:
    return LEFT + RESPONSE_W + CELL * (place + 0.5)


def _effect_head(place: int, effect: str) -> str:
    x, y = _column(place) + 4, HEAD - 8
    return f'<text x="{x}" y="{y}" transform="rotate(-50 {x} {y})">{text(effect)}</text>'


def _row(row: MatrixRow, top: float, width: float) -> list[str]:
    middle = top + ROW / 2 + 4
    how = f"{row.delay_s:g} s; {'latched' if row.latched else 'by itself'}"
    parts = [
        f'<line x1="0" x2="{width}" y1="{top}" y2="{top}"/>',
        f'<text x="8" y="{middle}">{text(row.cause)}<title>{text(row.trip_point)}</title></text>',
        f'<text class="s" x="{LEFT - 14}" y="{middle}" text-anchor="end">{text(how)}</text>',
        f'<text x="{LEFT}" y="{middle}">{text(row.response)}</text>',
    ]
    for place, effect in enumerate(EFFECTS):
        mark = row.effects[effect]
        if mark is not Mark.NONE:
            told = text(f"{row.cause}: {effect}")
            dot = f'<circle class="{mark.value}" cx="{_column(place)}" cy="{top + ROW / 2}" r="6">'
            parts.append(f"{dot}<title>{told}</title></circle>")
    return parts


def _legend(top: float) -> list[str]:
    marks = (mark for mark in Mark if mark is not Mark.NONE)
    return [
        f'<circle class="{mark.value}" cx="16" cy="{top + 20 * place - 4}" r="6"/>'
        f'<text class="s" x="30" y="{top + 20 * place}">{text(LEGEND[mark])}</text>'
        for place, mark in enumerate(marks)
    ]
