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


def refuse_demo(site: Path | None, write: bool) -> None:
    """Refuse `--write` where there is nothing of the person's own to write into (a usage error)."""
    from controller.settings.load import demo_site_folder

    if write and (site is None or site.resolve() == demo_site_folder().resolve()):
        raise click.BadParameter(
            "The demo site stays as it is: name your own with --site.", param_hint="'--write'"
        )


def show_and_keep(
    certificate: Certificate,
    lines: Sequence[str],
    *,
    folder: Path,
    state: Path,
    moment: datetime,
    by: str | None,
    write: bool,
    as_json: bool,
) -> None:
    """Put what was found on record and show it; with `write`, and if it passed, into rig.toml as well.

    Ends with exit code 1 when it did not pass. Raises SiteFaults and RecordFault; on record first, so that
    rig.toml never says what no certificate proves.
    """
    from controller.cli.calibrate.pump_job import whoever
    from controller.cli.state_folder import folder_for_a_night
    from controller.service.certificates import keep_calibration
    from controller.service.rig_file import check_rewrite, rewrite_rig

    who, old = by or whoever(), None
    if write and certificate.changes:
        check_rewrite(folder, certificate.changes)
    with folder_for_a_night(state):
        keep_calibration(state, moment, certificate.event(who))
    if write and certificate.changes:
        old = rewrite_rig(folder, certificate.changes, moment.date())
    if as_json:
        print_json(certificate.as_json() | {"by": who, "written": old is not None})
    else:
        for line in (*lines, *_words(certificate, old)):
            click.echo(line)
    if not certificate.passed:
        raise click.exceptions.Exit(FAILED)


def _words(certificate: Certificate, old: Path | None) -> list[str]:
    passed = "it may be used" if certificate.passed else "NOT PASSED"
    words = [f"Verdict: {certificate.verdict}; {passed}"]
    words += [f"  {text}" for text in certificate.said]
    words.append(f"What to do: {certificate.remedy}")
    words.append("The calibration is on record.")
    if old is not None:
        words.append(f"rig.toml is changed; the old one is {old.name} beside it.")
    elif certificate.changes:
        words.append("rig.toml is as it was; --write would put there:")
        words += [f"  {'.'.join(path)} = {value}" for path, value in certificate.changes.items()]
    else:
        words.append("Nothing is written into rig.toml.")
    return words
