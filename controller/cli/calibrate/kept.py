"""The end of every sensor's calibration: its certificate shown, and kept when that is asked for.

Only the order and the words live here.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from controller.cli.answer import print_json
from controller.cli.errors import FAILED

if TYPE_CHECKING:
    from controller.service.sensor_certificates import Certificate


def show_and_keep(
    certificate: Certificate,
    lines: Sequence[str],
    *,
    folder: Path,
    state: Path,
    moment: datetime,
    by: str,
    write: bool,
    as_json: bool,
) -> None:
    """Show what was found; with `write` put it on record and, if it passed, into rig.toml.

    Ends with exit code 1 when it did not pass. Raises SiteFaults and RecordFault; on record first, so that
    rig.toml never says what no certificate proves.
    """
    kept: Path | None = None
    if write:
        from controller.cli.state_folder import folder_for_a_night
        from controller.service.certificates import keep_calibration
        from controller.service.rig_file import rewrite_rig

        with folder_for_a_night(state):
            keep_calibration(state, moment, certificate.event(by))
        if certificate.changes:
            kept = rewrite_rig(folder, certificate.changes, moment.date())
    if as_json:
        print_json(certificate.as_json() | {"by": by, "written": kept is not None, "recorded": write})
    else:
        for line in (*lines, *_words(certificate, write, kept)):
            click.echo(line)
    if not certificate.passed:
        raise click.exceptions.Exit(FAILED)


def _words(certificate: Certificate, write: bool, kept: Path | None) -> list[str]:
    passed = "it may be used" if certificate.passed else "NOT PASSED"
    words = [f"Verdict: {certificate.verdict}; {passed}"]
    words += [f"  {text}" for text in certificate.said]
    words.append(f"What to do: {certificate.remedy}")
    if certificate.changes and kept is None:
        words.append("What --write would put into rig.toml:")
        words += [f"  {'.'.join(path)} = {value}" for path, value in certificate.changes.items()]
    if kept is not None:
        words.append(f"Written to rig.toml; the old file is {kept}")
    if write:
        words.append("The calibration is on record.")
    return words
