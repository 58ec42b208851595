"""The cause-and-effect matrix as a page: the drawing, the table with every word of it, and the board alone.

Layout only; the page fetches nothing and runs no script.
"""

from __future__ import annotations

from collections.abc import Sequence

from controller.cli.matrix_board import BoardTrip
from controller.cli.matrix_forms import BOARD_ALONE, BOARD_HEAD, board_cells
from controller.cli.matrix_svg import as_svg
from controller.record.page import Html, element, facts, join, page, section, table, text
from controller.run.matrix import NOTES, Mark, MatrixRow, with_mark
from controller.settings.values import Site


def as_html(site: Site, rows: Sequence[MatrixRow], board: Sequence[BoardTrip]) -> str:
    """Make the page for one site."""
    body = join(
        element("h1", "Cause-and-effect matrix"),
        element("p", f"{site.policy.title} ({site.policy.name}), with this site's own numbers.", "soft"),
        section("Causes and effects", Html(f'<div class="wide">{as_svg(site, rows)}</div>')),
        section("How to read it", *(element("p", note) for note in NOTES)),
        section("Every cause in words", *(_cause(row) for row in rows)),
        section("The board alone", table(BOARD_ALONE, BOARD_HEAD, [board_cells(trip) for trip in board])),
    )
    return page("Cause-and-effect matrix", body)


def _cause(row: MatrixRow) -> Html:
    pairs = [
        ("trip point", row.trip_point),
        ("voting", row.voting),
        ("delay", f"{row.delay_s:g} s"),
        ("clears", row.clear),
        ("off by the cause", ", ".join(with_mark(row, Mark.BLOCKED))),
        ("by the response", ", ".join(with_mark(row, Mark.BY_RESPONSE)) or "nothing"),
        ("bypass", row.bypass),
        ("priority", row.priority),
        ("response", row.response),
        ("not announced behind", ", ".join(row.silent_behind) or "nothing"),
    ]
    return join(
        element("h3", f"{row.cause} ({row.tag})"),
        element("p", join(element("strong", "What it means: "), text(row.consequence))),
        element("p", join(element("strong", "What to do: "), text(row.remedy))),
        facts(pairs),
    )
