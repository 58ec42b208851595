"""`tankhand calibrate conductivity`: the cell in one or two potassium chloride standards."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from controller.cli.board.line import port_option
from controller.cli.calibrate.cups_at_hand import (
    HARDWARE,
    Progress,
    cups_at_hand,
    moment_of,
    rig_option,
)
from controller.cli.errors import EXIT_CODES
from controller.cli.options import chosen_folder, json_option, load_chosen_site, seed_option, site_option
from controller.cli.state_folder import LIVE, SIMULATED, state_folder

if TYPE_CHECKING:
    from controller.measure.conductivity import CellCalibration, Standard, StandardReading
    from controller.settings.values import Site


@click.command(epilog=EXIT_CODES)
@site_option
@click.option(
    "--standards",
    default="1413",
    show_default=True,
    metavar="NAME[,NAME]",
    help="Which bottles: 0.01 or 0.1 (mol/kg), 1413 (µS/cm) or 12.88 (mS/cm); 0.01 mol/kg and 1413 are "
    "different bottles.",
)
@click.option(
    "--temperature",
    "temperature_c",
    type=click.FloatRange(15.0, 30.0),
    metavar="CELSIUS",
    help="Temperature of the standard, when the tank thermometer is not put into the cup.",
)
@click.option(
    "--from-readings",
    "file",
    type=click.Path(dir_okay=False, path_type=Path),
    metavar="FILE.csv",
    help="Take the readings from a file with the columns standard, time_s, us_cm, temperature_c.",
)
@rig_option
@port_option
@seed_option("Seed of a simulated rig.")
@click.option("--by", metavar="NAME", help="Who calibrates (default: the user of this computer).")
@click.option("--write", is_flag=True, help="Write what was found into rig.toml if it passed.")
@click.option("--state", type=click.Path(path_type=Path), metavar="DIR", help="Folder of the record.")
@json_option
def conductivity(
    site: Path | None,
    standards: str,
    temperature_c: float | None,
    file: Path | None,
    rig: str,
    port: str | None,
    seed: int,
    by: str | None,
    write: bool,
    state: Path | None,
    as_json: bool,
) -> None:
    """Calibrate the conductivity cell: by which factor its reading at 25 °C is to be multiplied.

    Nothing is switched: the board is only read. Its module compensates the temperature (2 % a kelvin); the
    readings are taken as it shows them and not compensated again.
    """
    from controller.cli.calibrate.kept import refuse_demo, show_and_keep
    from controller.measure.conductivity import StandardFault, judge_cell
    from controller.service.sensor_certificates import cell_certificate

    refuse_demo(site, write)
    checked = load_chosen_site(site)
    try:
        bottles = _bottles(standards)
        _refuse_beyond_range(checked, bottles)
        if file is not None:
            readings = _from_file(file, temperature_c)
        else:
            readings = _guided(checked, bottles, rig, port, seed, temperature_c)
        found = judge_cell(readings)
    except StandardFault as fault:
        raise click.UsageError(f"{fault}.") from None
    moment = moment_of(checked, rig)
    certificate = cell_certificate(found, checked.rig.cell, moment)
    show_and_keep(
        certificate,
        _lines(found),
        folder=chosen_folder(site),
        state=state or state_folder(LIVE if rig == HARDWARE else SIMULATED),
        moment=moment,
        by=by,
        write=write,
        as_json=as_json,
    )


def _bottles(standards: str) -> tuple[Standard, ...]:
    from controller.measure.conductivity import standard_named

    bottles = tuple(standard_named(name) for name in standards.split(",") if name.strip())
    if not 1 <= len(set(bottles)) == len(bottles) <= 2:
        raise click.BadParameter("One or two different standards are needed.", param_hint="'--standards'")
    return bottles


def _refuse_beyond_range(site: Site, bottles: tuple[Standard, ...]) -> None:
    """Refuse a standard that the board's module cannot show (a usage error)."""
    from controller.measure.conductivity import REFERENCE_C, standard_us_cm

    modules = site.rig.board.front_ends
    for bottle in bottles:
        if modules is not None and standard_us_cm(bottle, REFERENCE_C) > modules.conductivity_full_us_cm:
            raise click.BadParameter(
                f"{bottle.value} is beyond the range of this board's module, "
                f"{modules.conductivity_full_us_cm} µS/cm: take a weaker standard.",
                param_hint="'--standards'",
            )


def _guided(
    site: Site,
    bottles: tuple[Standard, ...],
    rig: str,
    port: str | None,
    seed: int,
    temperature_c: float | None,
) -> list[StandardReading]:
    from controller.service.cup_readings import read_standard

    at_hand = cups_at_hand(
        site, rig, port, "the conductivity cell", second=False, temperature_c=temperature_c, seed=seed
    )
    readings = []
    with at_hand as cups:
        for bottle in bottles:
            click.echo(f"Standard {bottle.value}", err=True)
            readings.append(read_standard(cups, bottle, Progress("µS/cm")))
    return readings


def _from_file(file: Path, temperature_c: float | None) -> list[StandardReading]:
    from controller.cli.calibrate.readings_file import looks_from
    from controller.measure.conductivity import standard_named
    from controller.service.cup_readings import standard_reading

    return [
        standard_reading(standard_named(label), looks)
        for label, looks in looks_from(file, "standard", "us_cm", temperature_c)
    ]


def _lines(found: CellCalibration) -> list[str]:
    from controller.measure.conductivity import as_ppm

    lines = ["Calibration of the conductivity cell"]
    for one in found.readings:
        lines.append(
            f"  standard {one.standard.value}: {one.shown_us_cm:.0f} µS/cm shown "
            f"({as_ppm(one.shown_us_cm, 500):.0f} ppm on the 500 scale, "
            f"{as_ppm(one.shown_us_cm, 700):.0f} on the 700 scale) at {one.temperature_c:.1f} °C"
        )
    if found.factor is not None:
        lines.append(f"  factor {found.factor:.4f} ± {found.uncertainty:.4f} (k = 2), for readings at 25 °C")
    return lines
