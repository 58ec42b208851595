"""`tankhand calibrate probe`: a pH electrode in two or three buffers."""

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
    warm_the_bottles,
)
from controller.cli.errors import EXIT_CODES
from controller.cli.options import chosen_folder, json_option, load_chosen_site, seed_option, site_option
from controller.cli.state_folder import LIVE, SIMULATED, state_folder

if TYPE_CHECKING:
    from controller.measure.buffers import Buffer
    from controller.measure.electrode_calibration import ElectrodeCalibration
    from controller.measure.electrode_fit import BufferReading
    from controller.settings.values import PhProbe, Site

USUAL = {"technical": ("7.00", "4.00"), "primary": ("6.865", "4.005")}


@click.command(epilog=EXIT_CODES)
@site_option
@click.option("--second", is_flag=True, help="The second pH probe of this site.")
@click.option(
    "--buffers",
    "series",
    type=click.Choice(["technical", "primary"]),
    default="technical",
    show_default=True,
    help="Which kind of buffers: technical 4.00, 7.00, 10.01, or primary 4.005, 6.865, 9.180, 10.012. The "
    "technical 7.00 and the primary 6.865 are different liquids.",
)
@click.option(
    "--points",
    metavar="PH,PH[,PH]",
    help="Which bottles, in the order they are used (default: 7.00,4.00, or 6.865,4.005).",
)
@click.option(
    "--isopotential",
    is_flag=True,
    help="Read every buffer again, 10 K or more off, and find the pH at which temperature changes nothing.",
)
@click.option(
    "--temperature",
    "temperature_c",
    type=click.FloatRange(10.0, 35.0),
    metavar="CELSIUS",
    help="Temperature of the buffers, when the tank thermometer is not put into the cups.",
)
@click.option(
    "--from-readings",
    "file",
    type=click.Path(dir_okay=False, path_type=Path),
    metavar="FILE.csv",
    help="Take the readings from a file with the columns buffer, time_s, mv, temperature_c.",
)
@rig_option
@port_option
@seed_option("Seed of a simulated rig.")
@click.option("--by", metavar="NAME", help="Who calibrates (default: the user of this computer).")
@click.option("--write", is_flag=True, help="Write what was found into rig.toml if it passed.")
@click.option("--state", type=click.Path(path_type=Path), metavar="DIR", help="Folder of the record.")
@json_option
def probe(
    site: Path | None,
    second: bool,
    series: str,
    points: str | None,
    isopotential: bool,
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
    """Calibrate a pH probe in buffers: offset, slope, and whether it is good, to be cleaned, or worn out.

    Nothing is switched: the board is only read. Use fresh buffers, and never pour them back. Wear what their
    labels and those of the cleaning liquids ask for.
    """
    from controller.cli.calibrate.kept import refuse_demo, show_and_keep
    from controller.measure.buffers import BufferFault
    from controller.service.sensor_certificates import probe_certificate

    refuse_demo(site, write)
    checked = load_chosen_site(site)
    before = checked.rig.second_probe if second else checked.rig.probe
    if before is None:
        raise click.UsageError("This site has no second pH probe: rig.toml has no [second_ph_probe].")
    try:
        bottles = _bottles(series, points)
        if file is not None:
            readings = _from_file(file, series, temperature_c)
        else:
            readings = _guided(checked, bottles, rig, port, seed, second, temperature_c, isopotential)
        found, believed = _judged(readings, before, isopotential)
    except BufferFault as fault:
        raise click.UsageError(f"{fault}.") from None
    moment = moment_of(checked, rig)
    certificate = probe_certificate(found, believed, moment, second=second, isopotential=isopotential)
    show_and_keep(
        certificate,
        _lines(found, certificate.item) + (_isopotential_lines(readings) if isopotential else []),
        folder=chosen_folder(site),
        state=state or state_folder(LIVE if rig == HARDWARE else SIMULATED),
        moment=moment,
        by=by,
        write=write,
        as_json=as_json,
    )


def _bottles(series: str, points: str | None) -> tuple[Buffer, ...]:
    from controller.measure.buffers import Series, buffer_named

    labels = USUAL[series] if points is None else tuple(points.replace(",", " ").split())
    bottles = tuple(buffer_named(label, Series(series)) for label in labels)
    if not 2 <= len(set(bottles)) == len(bottles) <= 3:
        raise click.BadParameter("Two or three different buffers are needed.", param_hint="'--points'")
    return bottles


def _guided(
    site: Site,
    bottles: tuple[Buffer, ...],
    rig: str,
    port: str | None,
    seed: int,
    second: bool,
    temperature_c: float | None,
    isopotential: bool,
) -> list[BufferReading]:
    """Lead through the bottles; with `isopotential` twice, the second time warmer or colder."""
    from controller.service.cup_readings import read_buffer

    sensor = "the second pH probe" if second else "the pH probe"
    readings = []
    at_hand = cups_at_hand(site, rig, port, sensor, second=second, temperature_c=temperature_c, seed=seed)
    with at_hand as cups:
        for again in (False, True) if isopotential else (False,):
            if again:
                warm_the_bottles(cups, rig)
            for bottle in bottles:
                click.echo(f"Buffer {bottle.label} ({bottle.series.value})", err=True)
                readings.append(read_buffer(cups, bottle, Progress("mV")))
    return readings


def _from_file(file: Path, series: str, temperature_c: float | None) -> list[BufferReading]:
    from controller.cli.calibrate.readings_file import looks_from
    from controller.measure.buffers import Series, buffer_named
    from controller.service.cup_readings import buffer_reading

    return [
        buffer_reading(buffer_named(label, Series(series)), looks)
        for label, looks in looks_from(file, "buffer", "mv", temperature_c)
    ]


def _judged(
    readings: list[BufferReading], before: PhProbe, isopotential: bool
) -> tuple[ElectrodeCalibration, PhProbe]:
    """Judge the first reading of each bottle, about the isopotential pH of all of them if asked for."""
    from dataclasses import replace

    from controller.measure.electrode_calibration import judge
    from controller.measure.electrode_fit import isopotential_ph

    if len(readings) < 2:
        raise click.UsageError("A calibration needs two buffers.")
    if not isopotential:
        return judge(readings, before), before
    first: dict[str, BufferReading] = {}
    for reading in readings:
        first.setdefault(reading.buffer.label, reading)
    ph = isopotential_ph(readings)
    if ph is None or not 4.0 <= ph <= 9.0:
        told = "" if ph is None else f" ({ph:.1f} is none)"
        raise click.UsageError(
            f"These readings give no isopotential pH{told}: read two buffers twice, at least 10 K apart."
        )
    believed = replace(before, isopotential_ph=ph)
    return judge(list(first.values()), believed), believed


def _lines(found: ElectrodeCalibration, item: str) -> list[str]:
    lines = [f"Calibration of the {item.replace('ph', 'pH')}"]
    left = found.line.left_ph if found.line is not None else (None,) * len(found.readings)
    for one, off in zip(found.readings, left, strict=True):
        slow = "" if one.t95_s is None else f", 95 % in {one.t95_s:.0f} s"
        rest = "" if off is None or len(found.readings) < 3 else f", {off:+.3f} pH off the line"
        lines.append(
            f"  buffer {one.buffer.label}: pH {one.ph:.3f} at {one.temperature_c:.1f} °C, "
            f"{one.mv:+.1f} mV ± {2 * one.doubt_mv:.1f}{slow}{rest}"
        )
    if found.line is not None:
        line = found.line
        lines.append(
            f"  offset {line.offset_mv:+.1f} mV ± {line.offset_uncertainty_mv:.1f} "
            f"at pH {line.isopotential_ph:.1f}, slope {100 * line.slope_share:.1f} % "
            f"± {100 * line.slope_uncertainty:.1f} (k = 2)"
        )
    return lines


def _isopotential_lines(readings: list[BufferReading]) -> list[str]:
    from controller.measure.electrode_fit import isopotential_ph, isopotential_uncertainty

    ph, uncertainty = isopotential_ph(readings), isopotential_uncertainty(readings)
    if ph is None or uncertainty is None:
        return []
    return [f"  isopotential pH {ph:.2f} ± {uncertainty:.2f} (k = 2, but for the thermometer)"]
