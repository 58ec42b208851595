"""`tankhand check --matrix FORM`: the cause-and-effect matrix of a site, in the form that was asked for.

Only the choosing of the form lives here.
"""

from __future__ import annotations

import click

from controller.cli.answer import print_json
from controller.settings.values import Site

FORMS = ("text", "csv", "html", "svg", "json")


def show_matrix(site: Site, form: str) -> None:
    """Print the matrix on stdout; the rooms behind each form are loaded only when it is asked for."""
    from controller.cli import matrix_forms
    from controller.cli.matrix_board import board_trips
    from controller.cli.matrix_page import as_html
    from controller.cli.matrix_svg import as_svg
    from controller.run.matrix import matrix
    from controller.settings.faults import plain

    rows, board = matrix(site), board_trips(site)
    match form:
        case "json":
            print_json(matrix_forms.as_json(site, rows, board))
        case "csv":
            click.echo(matrix_forms.as_csv(rows, board), nl=False)
        case "html":
            click.echo(as_html(site, rows, board), nl=False)
        case "svg":
            click.echo(as_svg(site, rows), nl=False)
        case _:
            for line in matrix_forms.as_text(site, rows, board):
                click.echo(plain(line))
